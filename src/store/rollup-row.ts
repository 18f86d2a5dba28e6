/** A rollup as the store holds it, and how its columns become sums. */
import { ALL_BIN } from '../core/bin-name.js';
import type { BinSum, Sums } from '../core/rows.js';
import { Class, type Period } from '../core/words.js';

export interface RollupRow extends Sums {
  sensor: string;
  period: Period;
  start: number;
  revision: number;
  /** its running sums by condition bin, in order of their names; empty: all of it is in the bin `all` */
  bins: BinSum[];
}

/** Tables of the stored periods. The 10 s windows have none: they are the sums of their increments. */
export const ROLLUP_TABLES = { '1m': 'rollup_1m', '10m': 'rollup_10m', '1h': 'rollup_1h' } as const;

/** Tables of their condition bins. */
export const BIN_TABLES = { '1m': 'rollup_bin_1m', '10m': 'rollup_bin_10m', '1h': 'rollup_bin_1h' } as const;

/** Days (UTC) of what the table of 1 h holds. */
export const BIN_DAYS = 'rollup_bin_1d';
export const DAY_MS = 86_400_000;

/** What the bins leave of running sums: that belongs to the bin `all`. */
export function remainderOf(
  pulses: number,
  ms: number,
  bins: readonly BinSum[],
): { pulses: number; ms: number } {
  const rest = { pulses, ms };
  for (const sum of bins) {
    if (sum.bin === ALL_BIN) continue;
    rest.pulses -= sum.pulses;
    rest.ms -= sum.ms;
  }
  return rest;
}

/** The bins of a row from those that are stored of it: in order, none that holds nothing, none at all where only `all` is left. */
export function sortBins(row: Sums, stored: readonly BinSum[]): BinSum[] {
  const bins = stored.filter((sum) => sum.bin !== ALL_BIN && (sum.pulses !== 0 || sum.ms !== 0));
  if (bins.length === 0) return bins;
  const rest = remainderOf(row.pulses[Class.running]!, row.ms[Class.running]!, bins);
  if (rest.pulses !== 0 || rest.ms !== 0) bins.push({ bin: ALL_BIN, ...rest });
  return bins.sort((a, b) => (a.bin < b.bin ? -1 : 1));
}

/** Sums from the 15 columns of a rollup, the first at `offset`. */
export function toSums(cells: readonly number[], offset: number): Sums {
  return {
    pulses: [0, ...cells.slice(offset, offset + 7), 0],
    ms: [0, ...cells.slice(offset + 7, offset + 14), 0],
    uncertainMs: cells[offset + 14]!,
  };
}

export function emptySums(): Sums {
  return { pulses: [0, 0, 0, 0, 0, 0, 0, 0, 0], ms: [0, 0, 0, 0, 0, 0, 0, 0, 0], uncertainMs: 0 };
}
