/** How fast what comes behind the live records may go: so many records a second, and a batch at once. */

export class Pace {
  #tokens: number;
  #filledAt: number;

  /** `atOnce`: most records of one batch. */
  constructor(
    private readonly perS: number,
    private readonly atOnce: number,
    now: number,
  ) {
    this.#tokens = atOnce;
    this.#filledAt = now;
  }

  /** How many records may go now. */
  take(now: number): number {
    const grown = this.#tokens + ((now - this.#filledAt) / 1_000) * this.perS;
    this.#filledAt = now;
    this.#tokens = Math.min(grown, Math.max(this.atOnce, this.perS));
    return Math.floor(this.#tokens);
  }

  spend(count: number): void {
    this.#tokens -= count;
  }

  /** Until a batch of `count` may go, ms. */
  waitMs(count: number): number {
    return Math.max(0, Math.ceil(((count - this.#tokens) / this.perS) * 1_000));
  }
}
