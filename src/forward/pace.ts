/** How fast what comes behind the live records may go: so many records a second, and a batch at once. */

export class Pace {
  #tokens: number;
  #filledAt: number;

  /** `atOnce`: most records of one batch. Times are those of a clock that nobody sets, ms. */
  constructor(
    private readonly perS: number,
    private readonly atOnce: number,
    steadyAt: number,
  ) {
    this.#tokens = atOnce;
    this.#filledAt = steadyAt;
  }

  /** How many records may go now. */
  take(steadyAt: number): number {
    const grown = this.#tokens + ((steadyAt - this.#filledAt) / 1_000) * this.perS;
    this.#filledAt = steadyAt;
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
