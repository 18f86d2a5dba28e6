/**
 * Dispersion as it was at a time in the past: of each condition bin over the 48 running hours before it. A series needs it at
 * thousands of times, so the sums are read once and looked up.
 */
import { ALL_BIN, MIXED_BIN } from '../../core/bin-name.js';
import { dispersionOver, type Dispersion } from '../../stats/dispersion.js';
import { readSpreads, type SpreadRow } from '../../store/read-series.js';
import type { ReadStore } from '../../store/reader.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
/** Spans beyond this are read in days: their buckets are hours long, and 48 running hours are two days at the least. */
const HOURLY_MOST_MS = 30 * DAY_MS;
/** How far before the span the 48 running hours may lie. */
const BEFORE_MS = 30 * DAY_MS;

export class TrailingSpread {
  readonly #byBin = new Map<string, SpreadRow[]>();
  readonly #found = new Map<SpreadRow, Dispersion>();

  /** `rows` in order of time. */
  constructor(rows: readonly SpreadRow[]) {
    for (const row of rows) {
      const list = this.#byBin.get(row.bin);
      if (list === undefined) this.#byBin.set(row.bin, [row]);
      else list.push(row);
    }
  }

  static read(reader: ReadStore, sensor: string, from: number, to: number): TrailingSpread {
    const unitMs = to - from > HOURLY_MOST_MS ? DAY_MS : HOUR_MS;
    const begin = Math.floor((from - BEFORE_MS) / DAY_MS) * DAY_MS;
    return new TrailingSpread(readSpreads(reader, { sensor, from: begin, to, unitMs }));
  }

  /**
   * For counts that ran in `bins` and ended at `at`: the largest of theirs; where one of these has none of its own yet, the
   * largest of all. The rule is that of timed counts, see core/spread.ts. Until a bin has closed hours before `at`, its
   * first ones serve: limits from nothing would be those of a Poisson count, which are too narrow.
   */
  at(at: number, bins: readonly string[]): { dispersion: number; uncertain: boolean } {
    const own = bins
      .filter((bin) => bin !== MIXED_BIN)
      .map((bin) => this.#find(this.#byBin.get(bin === '' ? ALL_BIN : bin), at));
    const isKnown = own.length > 0 && own.every((found) => found?.uncertain === false);
    const taken = isKnown ? own : [...this.#byBin.values()].map((rows) => this.#find(rows, at));
    return {
      dispersion: Math.max(1, ...taken.map((found) => found?.dispersion ?? 1)),
      uncertain: !isKnown,
    };
  }

  #find(rows: readonly SpreadRow[] | undefined, at: number): Dispersion | null {
    if (rows === undefined) return null;
    const index = Math.max(0, countBefore(rows, at) - 1);
    const newest = rows[index]!;
    let found = this.#found.get(newest);
    if (found === undefined) {
      found = dispersionOver(newestFirst(rows, index));
      this.#found.set(newest, found);
    }
    return found;
  }
}

function* newestFirst(rows: readonly SpreadRow[], index: number): Generator<SpreadRow> {
  for (let i = index; i >= 0; i--) yield rows[i]!;
}

/** Rows that start before `at`. */
function countBefore(rows: readonly SpreadRow[], at: number): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle]!.start < at) low = middle + 1;
    else high = middle;
  }
  return low;
}
