/** Who uses the page. Without users in the configuration that is a name the page remembers; with users it is the login. */
import { signal } from '@preact/signals';

const WHO_KEY = 'tallypost.who';
/** There may be a session: its cookie is not for scripts to see. */
const LOGIN_KEY = 'tallypost.login';
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

export type Role = 'view' | 'operate' | 'engineer';

/** What the gateway says of a session. */
export interface SessionBody {
  /** null: nobody has logged in, or nobody is asked */
  readonly name: string | null;
  readonly role: Role | null;
  /** whether there are users */
  readonly login_needed: boolean;
  /** whether a screen on the wall can do without a login */
  readonly kiosk: boolean;
  /** end of the session; null: there is none */
  readonly until: string | null;
  /** the gateway's clock */
  readonly now: string;
}

/** The gateway asks who is there; the shell shows the login instead of a view. */
export const isLoginNeeded = signal(false);
/** Name of the login; null: nobody is logged in, or the gateway has no users. */
export const login = signal<string | null>(null);
/** What the login may do; null: nobody is asked, so that anybody may do everything. */
export const role = signal<Role | null>(null);
/** The name typed last; empty: none yet. */
export const typedWho = signal(recall(WHO_KEY));

/** Who was logged in last on this screen, and has not logged out; empty: nobody. */
export const lastLogin = signal('');
/** Counts up when somebody else than the last one is in: what the last one had open is none of theirs. */
export const loginTurn = signal(0);

/** What is shown is for a wall, where nobody is who could log in. */
export const isWall = signal(false);

/** Why somebody who was in is asked again; empty: nobody was. */
export const loginReason = signal('');
const OVER =
  'Your login is over: its time has run out, the gateway was started again, or your user was changed. Log in to go on where you were.';

/** The gateway does not know who is there, or not any more. */
export function needLogin(): void {
  if (login.value !== null) tellOver();
  isLoginNeeded.value = true;
}

/** Somebody was logged in on this screen, and is no more. */
export function tellOver(): void {
  loginReason.value = OVER;
  takeSession({ name: null, role: null });
}

export function rememberWho(who: string): void {
  typedWho.value = who;
  remember(WHO_KEY, who);
}

/** The name that acts carry; empty: it must be asked for. */
export function currentWho(): string {
  return login.value ?? typedWho.value;
}

/** Whether somebody logged in on this screen and has not logged out: only then it is worth asking who. */
export function mayBeLoggedIn(): boolean {
  return recall(LOGIN_KEY) !== '';
}

/** What each role may, after "may". */
export const ROLE_WORDS: Readonly<Record<Role, string>> = {
  view: 'read, and change nothing',
  operate: 'read, answer alarms, count, and enter work and findings',
  engineer: 'do everything',
};
/** What has changed about the login while the page was open; empty: nothing. */
export const roleNotice = signal('');

/** Takes what a login or the gateway's answer says; a session that is over is forgotten. */
export function takeSession(session: Pick<SessionBody, 'name' | 'role'>): void {
  const isSame = login.value !== null && login.value === session.name;
  if (isSame && role.value !== session.role && session.role !== null)
    roleNotice.value = `Your login may now ${ROLE_WORDS[session.role]}.`;
  if (!isSame) roleNotice.value = '';
  if (session.name !== null) {
    if (lastLogin.value !== '' && lastLogin.value !== session.name) loginTurn.value += 1;
    lastLogin.value = session.name;
  }
  login.value = session.name;
  role.value = session.role;
  remember(LOGIN_KEY, session.name ?? '');
}

/** Rehearse, commission, test: what changes more than the answer to an alarm. */
export function mayChange(): boolean {
  return role.value === null || role.value === 'engineer';
}

/** Whoever may only read is not offered to act. */
export function mayAct(): boolean {
  return role.value !== 'view';
}
