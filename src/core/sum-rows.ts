/** Rows of what is summed: rollups, base windows, condition bins, and what dispersion is found from. */
import type { SensorKey } from './facts.js';
import type { Period } from './words.js';

/** pulses and milliseconds by class; index = class (0 and 8 unused) */
export interface Sums {
  pulses: number[];
  ms: number[];
  /** milliseconds of any class whose time is uncertain */
  uncertainMs: number;
}

/** Running pulses and milliseconds of one condition bin, see bin-name.ts. */
export interface BinSum {
  bin: string;
  pulses: number;
  ms: number;
}

/**
 * Adds to a rollup: the store inserts it with revision 0, or adds the sums to what is there and raises the revision
 * by one. Sums may be negative. Periods 1m, 10m, 1h; the 10 s windows are the increments themselves.
 */
export interface RollupAdd extends Sums {
  sensor: SensorKey;
  period: Exclude<Period, '10s'>;
  start: number;
  /** its running sums by condition bin, `all` left out: that is what remains of them */
  bins: BinSum[];
}

/** A base window that became final: published, not stored (it is the sum of its increments). */
export interface WindowIssued extends Sums {
  sensor: SensorKey;
  start: number;
  /** as in `RollupAdd` */
  bins: BinSum[];
}

/** A base window whose sums changed after it was issued: the store raises its revision and sums it anew. */
export interface WindowRevised {
  sensor: SensorKey;
  start: number;
}

/**
 * Per running hour and condition bin: Σ x²/e and number of blocks for blocks of 10 s, 1 min, 10 min, 1 h (x pulses, e
 * seconds, running). A block holds what its stretch of time counted in this bin.
 */
export interface Spread {
  sensor: SensorKey;
  hour: number;
  /** never `mixed`: a bin of unlike conditions has no dispersion of its own */
  bin: string;
  pulses: number;
  ms: number;
  q: [number, number, number, number];
  k: [number, number, number, number];
}

const HOURS_KEPT = 96;

/** How many spreads are held, newest first: more where an hour may have several. The store gives back as many at start. */
export function spreadsKept(hasBins: boolean): number {
  return hasBins ? 4 * HOURS_KEPT : HOURS_KEPT;
}
