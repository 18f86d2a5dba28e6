/**
 * How many records go in one call. A receiver that cannot take a full batch within the deadline would otherwise never get
 * anywhere: the same batch would come again for ever.
 * Source: halving on trouble and doubling while it goes well; common practice, no source. The shares are our choice: sinks
 * that end a call themselves do so at 0.8 of the deadline, and a doubled batch must not be the next to fail.
 */
const SLOW_SHARE = 0.5;
const FAST_SHARE = 0.2;

export class BatchSize {
  #records: number;
  #isFast = false;

  /** `recordsMost`: of the sink. */
  constructor(
    private readonly recordsMost: number,
    private readonly deadlineMs: number,
  ) {
    this.#records = recordsMost;
  }

  get records(): number {
    return this.#records;
  }

  /** Batches are full, and the last call was answered so soon that the next one may be made ready, or sent, behind it. */
  get isFast(): boolean {
    return this.#isFast && this.#records === this.recordsMost;
  }

  /** A call of `count` records came to nothing after `tookMs`. */
  noteLater(count: number, tookMs: number): void {
    this.#isFast = false;
    if (tookMs >= this.deadlineMs * SLOW_SHARE) this.#records = Math.max(1, Math.floor(count / 2));
  }

  /** A call of `count` records was answered after `tookMs`; only one that was as big as it may be says that more can go. */
  noteAnswer(count: number, tookMs: number): void {
    this.#isFast = tookMs <= this.deadlineMs * FAST_SHARE;
    if (count >= this.#records && tookMs <= this.deadlineMs * FAST_SHARE)
      this.#records = Math.min(this.recordsMost, this.#records * 2);
  }
}
