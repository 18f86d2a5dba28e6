/** What was loaded last, with the name of what it is of, so that it is never shown under another heading. */
import { signal } from '@preact/signals';
import { toProblem, type ApiProblem } from './api-client.js';

export interface Kept<T> {
  /** what it is of */
  readonly key: string;
  /** the last answer for this key; null: none yet */
  readonly body: T | null;
  /** why the last attempt failed; null: it did not */
  readonly problem: ApiProblem | null;
}

export class LatestLoad<T> {
  /** null: nothing was loaded yet */
  readonly kept = signal<Kept<T> | null>(null);
  #abort: AbortController | null = null;

  /** What is kept, if it is of `key`; null: it is not, or there is none. */
  of(key: string): Kept<T> | null {
    const kept = this.kept.value;
    return kept !== null && kept.key === key ? kept : null;
  }

  /** Takes the place of a load that is under way, whose answer is let go. Never rejects. */
  async load(key: string, ask: (signal: AbortSignal) => Promise<T>): Promise<void> {
    this.end();
    const abort = new AbortController();
    this.#abort = abort;
    try {
      const body = await ask(abort.signal);
      if (!abort.signal.aborted) this.kept.value = { key, body, problem: null };
    } catch (error) {
      if (abort.signal.aborted) return;
      const last = this.kept.peek();
      this.kept.value = { key, body: last?.key === key ? last.body : null, problem: toProblem(error) };
    }
  }

  end(): void {
    this.#abort?.abort();
  }
}
