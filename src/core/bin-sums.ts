/** Running sums by condition bin: short lists, for a period visits few bins. The bin `all` is what they leave, see rows.ts. */
import { ALL_BIN, MIXED_BIN } from './bin-name.js';
import type { BinSum, Increment, Sums } from './rows.js';
import { Class } from './words.js';

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

/** What ran in a period by bin, `all` included, in order of their names. */
export function runningCells({ pulses, ms }: Sums, bins: readonly BinSum[]): BinSum[] {
  const cells = bins.filter((sum) => sum.ms > 0);
  const rest = { bin: ALL_BIN, pulses: pulses[Class.running]!, ms: ms[Class.running]! };
  for (const sum of bins) {
    rest.pulses -= sum.pulses;
    rest.ms -= sum.ms;
  }
  if (rest.ms > 0) cells.push(rest);
  return cells.sort((a, b) => (a.bin < b.bin ? -1 : 1));
}

/** Bin of a base window from those of its running increments: one, or `mixed`. */
export function joinBins(a: string, b: string): string {
  return a === b ? a : MIXED_BIN;
}
