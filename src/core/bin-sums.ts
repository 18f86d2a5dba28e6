/** Running sums by condition bin: short lists, for a period visits few bins. The bin `all` is what they leave, see rows.ts. */
import { MIXED_BIN } from './bin-name.js';
import type { BinSum, Increment } from './rows.js';

export function addToBins(bins: BinSum[], bin: string, pulses: number, ms: number): void {
  for (const sum of bins) {
    if (sum.bin !== bin) continue;
    sum.pulses += pulses;
    sum.ms += ms;
    return;
  }
  bins.push({ bin, pulses, ms });
}

/** Adds a classified increment, or takes it out. */
export function addRowToBins(bins: BinSum[], row: Increment, sign: 1 | -1): void {
  if (row.bin !== '') addToBins(bins, row.bin, sign * row.pulses, sign * Math.max(0, row.to - row.from));
}

/** Bin of a base window from those of its running increments: one, or `mixed`. */
export function joinBins(a: string, b: string): string {
  return a === b ? a : MIXED_BIN;
}
