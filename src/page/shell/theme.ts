/** Light, dim, or as the screen is set. The choice is this screen's own. */
import { effect, signal } from '@preact/signals';

const THEMES = ['auto', 'light', 'dim'] as const;
export type Theme = (typeof THEMES)[number];
const KEY = 'tallypost.theme';

function readTheme(): Theme {
  try {
    const stored = localStorage.getItem(KEY);
    return THEMES.find((theme) => theme === stored) ?? 'auto';
  } catch {
    return 'auto';
  }
}

export const theme = signal<Theme>(readTheme());

export const THEME_NAMES: Readonly<Record<Theme, string>> = {
  auto: 'As the screen',
  light: 'Light',
  dim: 'Dim',
};

export function chooseTheme(next: Theme): void {
  theme.value = next;
  try {
    localStorage.setItem(KEY, next);
  } catch {
    // it holds until the page is left
  }
}

/** Call once. */
export function applyTheme(): void {
  effect(() => {
    document.documentElement.dataset['theme'] = theme.value;
  });
}
