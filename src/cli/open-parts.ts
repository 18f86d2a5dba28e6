/** What was opened, to be ended in the opposite order: at the end, and when what comes next cannot be opened. */

export class OpenParts {
  readonly #ends: (() => Promise<void>)[] = [];

  /** Takes what is open now, and how it is ended; answers with it. */
  add<T>(part: T, end: (part: T) => unknown): T {
    this.#ends.push(async () => {
      await end(part);
    });
    return part;
  }

  /** Ends them all, the newest first. */
  async close(): Promise<void> {
    for (let end = this.#ends.pop(); end !== undefined; end = this.#ends.pop()) await end();
  }
}
