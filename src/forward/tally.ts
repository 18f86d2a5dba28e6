/** How a sink fares: successes, failures, and how many records a second it took lately. */
import type { ForwardClock } from './clock.js';

const SLICE_MS = 5_000;
const SLICES = 12;

export class Tally {
  /** in succession */
  failures = 0;
  /** ms; null: never */
  lastSuccessAt: number | null = null;
  lastErrorAt: number | null = null;
  lastError = '';
  /** since when it fails, ms; null: it does not */
  failingSince: number | null = null;
  /** the same by the clock that nobody sets */
  #failingSteadyAt = 0;
  /** records taken since the start */
  taken = 0;
  /** somebody was told that records were given up */
  hasToldLoss = false;
  readonly #slices = new Map<number, number>();

  constructor(private readonly clock: Pick<ForwardClock, 'now' | 'steady'>) {}

  noteSuccess(records: number): void {
    this.failures = 0;
    this.failingSince = null;
    if (records === 0) return;
    this.lastSuccessAt = this.clock.now();
    this.taken += records;
    const slice = Math.floor(this.clock.steady() / SLICE_MS);
    this.#slices.set(slice, (this.#slices.get(slice) ?? 0) + records);
    for (const old of this.#slices.keys()) if (old <= slice - SLICES) this.#slices.delete(old);
  }

  /** Something that people should see beside how it stands, and that is no failure. */
  noteEvent(text: string): void {
    this.lastErrorAt = this.clock.now();
    this.lastError = text.slice(0, REASON_LENGTH_MAX);
  }

  /** True: it is the first in succession. */
  noteFailure(reason: string): boolean {
    this.failures += 1;
    if (this.failingSince === null) {
      this.failingSince = this.clock.now();
      this.#failingSteadyAt = this.clock.steady();
    }
    this.noteEvent(reason);
    return this.failures === 1;
  }

  /** For how long it has failed, ms; 0: it does not. */
  failingForMs(): number {
    return this.failingSince === null ? 0 : this.clock.steady() - this.#failingSteadyAt;
  }

  /** Records a second over the last minute. */
  ratePerS(): number {
    const first = Math.floor(this.clock.steady() / SLICE_MS) - SLICES;
    let sum = 0;
    for (const [slice, records] of this.#slices) if (slice > first) sum += records;
    return sum / ((SLICES * SLICE_MS) / 1_000);
  }
}

const REASON_LENGTH_MAX = 500;
