/** A rollup as the store holds it, and how its columns become sums. */
import type { Sums } from '../core/rows.js';
import type { Period } from '../core/words.js';

export interface RollupRow extends Sums {
  sensor: string;
  period: Period;
  start: number;
  revision: number;
}

/** Tables of the stored periods. The 10 s windows have none: they are the sums of their increments. */
export const ROLLUP_TABLES = { '1m': 'rollup_1m', '10m': 'rollup_10m', '1h': 'rollup_1h' } as const;

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
