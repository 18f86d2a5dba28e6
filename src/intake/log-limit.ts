/** A log that one noisy client cannot fill: each kind of line at most every ten seconds, with the number left out. */

export interface Log {
  debug(facts: object, text: string): void;
  info(facts: object, text: string): void;
  warn(facts: object, text: string): void;
  error(facts: object, text: string): void;
}

const EVERY_MS = 10_000;
const KINDS_MAX = 100;

export class LimitedLog {
  readonly #log: Log;
  readonly #said = new Map<string, { at: number; leftOut: number }>();

  constructor(log: Log) {
    this.#log = log;
  }

  warn(kind: string, facts: object): void {
    const now = performance.now();
    const last = this.#said.get(kind);
    if (last !== undefined && now - last.at < EVERY_MS) {
      last.leftOut += 1;
      return;
    }
    if (last === undefined && this.#said.size >= KINDS_MAX) this.#said.clear();
    this.#said.set(kind, { at: now, leftOut: 0 });
    const more = last === undefined || last.leftOut === 0 ? {} : { leftOut: last.leftOut };
    this.#log.warn({ ...facts, ...more }, kind);
  }
}
