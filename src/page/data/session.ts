/** Who uses the page. Without users in the configuration that is a name the page remembers; with users it is the login. */
import { signal } from '@preact/signals';

const WHO_KEY = 'tallypost.who';
export const WHO_CHARACTERS_MOST = 64;

/** Storage may be forbidden; then the name lives as long as the page. */
function recall(key: string): string {
  try {
    return localStorage.getItem(key) ?? '';
  } catch {
    return '';
  }
}

function remember(key: string, value: string): void {
  try {
    localStorage.setItem(key, value);
  } catch {
    // the name is asked for again after the next load; nothing else hangs on it
  }
}

/** The gateway asks who is there; the shell shows the login instead of a view. */
export const isLoginNeeded = signal(false);
/** Name of the login; null: nobody is logged in, or the gateway has no users. */
export const login = signal<string | null>(null);
/** The name typed last; empty: none yet. */
export const typedWho = signal(recall(WHO_KEY));

export function needLogin(): void {
  isLoginNeeded.value = true;
}

export function rememberWho(who: string): void {
  typedWho.value = who;
  remember(WHO_KEY, who);
}

/** The name that acts carry; empty: it must be asked for. */
export function currentWho(): string {
  return login.value ?? typedWho.value;
}
