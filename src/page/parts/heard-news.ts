/** What is said to whoever hears the page instead of seeing it: what happened just now, each sentence once. */
import { signal } from '@preact/signals';

/** Long enough to be noticed; then it is taken back, so that the same sentence can be said again. */
const SAID_MS = 8_000;
/** At once; what comes faster cannot be listened to. */
const SENTENCES_MOST = 5;

export interface News {
  readonly number: number;
  readonly text: string;
}

export const heardNews = signal<readonly News[]>([]);
let lastNumber = 0;

export function tellHeard(text: string): void {
  const number = ++lastNumber;
  heardNews.value = [...heardNews.value, { number, text }].slice(-SENTENCES_MOST);
  setTimeout(() => (heardNews.value = heardNews.value.filter((each) => each.number !== number)), SAID_MS);
}
