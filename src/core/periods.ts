/** Periods while they are gathered: the open ones with all their classes, closed minutes with what ran. */
import type { BinSum, Sums } from './rows.js';

/** Sums of an open period. */
export interface OpenPeriod {
  start: number;
  sums: Sums;
  /** as in `RollupAdd` */
  bins: BinSum[];
}

/** A minute with running exposure. */
export interface Minute {
  start: number;
  pulses: number;
  ms: number;
  /** as in `RollupAdd` */
  bins: BinSum[];
}
