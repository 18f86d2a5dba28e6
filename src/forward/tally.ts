/** How a sink fares: successes, failures, and how many records a second it took lately. */

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
  /** records taken since the start */
  taken = 0;
  /** somebody was told that records were given up */
  hasToldLoss = false;
  readonly #slices = new Map<number, number>();

  noteSuccess(now: number, records: number): void {
    this.failures = 0;
    this.failingSince = null;
    if (records === 0) return;
    this.lastSuccessAt = now;
    this.taken += records;
    const slice = Math.floor(now / SLICE_MS);
    this.#slices.set(slice, (this.#slices.get(slice) ?? 0) + records);
    for (const old of this.#slices.keys()) if (old <= slice - SLICES) this.#slices.delete(old);
  }

  /** Something that people should see beside how it stands, and that is no failure. */
  noteEvent(now: number, text: string): void {
    this.lastErrorAt = now;
    this.lastError = text.slice(0, REASON_LENGTH_MAX);
  }

  /** True: it is the first in succession. */
  noteFailure(now: number, reason: string): boolean {
    this.failures += 1;
    this.failingSince ??= now;
    this.noteEvent(now, reason);
    return this.failures === 1;
  }

  /** Records a second over the last minute. */
  ratePerS(now: number): number {
    const first = Math.floor(now / SLICE_MS) - SLICES;
    let sum = 0;
    for (const [slice, records] of this.#slices) if (slice > first) sum += records;
    return sum / ((SLICES * SLICE_MS) / 1_000);
  }
}

const REASON_LENGTH_MAX = 500;
