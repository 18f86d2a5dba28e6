/**
 * The growing return window, kept so that every newest part of it can be judged: minutes since the raise (or the last
 * exceedance) in blocks whose lengths double, at most two of each. What lies before a fall never holds up the return: some
 * newest part holds at least a third of the time since the fall and nothing from before it, and grows until it decides.
 * Source: exponential histograms, M. Datar, A. Gionis, P. Indyk and R. Motwani, Maintaining Stream Statistics over Sliding
 * Windows, SIAM Journal on Computing 31 (2002); two blocks of each length are our choice.
 */
import { addToBins } from './bin-sums.js';
import type { Minute } from './periods.js';
import type { BinSum } from './rows.js';

/** Start (ms), pulses and running exposure (ms) of so many minutes that ran; by condition bin where that is asked for. */
export type ReturnBlock = [start: number, pulses: number, ms: number, minutes: number, bins?: BinSum[]];

/** Adds a minute; blocks of one length are joined when a third one comes. Newest last. */
export function addToBlocks(blocks: ReturnBlock[], { start, pulses, ms }: Minute): void {
  blocks.push([start, pulses, ms, 1]);
  joinBlocks(blocks);
}

/** The same, with the bins that the minute ran in: what is compared with a yardstick is compared bin by bin. */
export function addToBinnedBlocks(blocks: ReturnBlock[], { start, pulses, ms, bins }: Minute): void {
  blocks.push([start, pulses, ms, 1, bins.map((sum) => ({ ...sum }))]);
  joinBlocks(blocks);
}

function joinBlocks(blocks: ReturnBlock[]): void {
  for (let i = blocks.length - 1; i >= 2 && blocks[i - 2]![3] === blocks[i]![3]; i -= 2) {
    const [older, newer] = [blocks[i - 2]!, blocks[i - 1]!];
    const joined: ReturnBlock = [older[0], older[1] + newer[1], older[2] + newer[2], older[3] + newer[3]];
    if (older[4] !== undefined || newer[4] !== undefined) joined.push(joinBins(older[4], newer[4]));
    blocks.splice(i - 2, 2, joined);
  }
}

function joinBins(older: BinSum[] = [], newer: readonly BinSum[] = []): BinSum[] {
  const joined = older.map((sum) => ({ ...sum }));
  for (const { bin, pulses, ms } of newer) addToBins(joined, bin, pulses, ms);
  return joined;
}

export interface Part {
  from: number;
  pulses: number;
  ms: number;
}

/** Every newest part of at least `leastMs` of running exposure, the shortest first, and the whole. */
export function partsOf(blocks: readonly ReturnBlock[], leastMs: number): Part[] {
  const parts: Part[] = [];
  let pulses = 0;
  let ms = 0;
  for (let i = blocks.length - 1; i >= 0; i--) {
    pulses += blocks[i]![1];
    ms += blocks[i]![2];
    if (ms >= leastMs || i === 0) parts.push({ from: blocks[i]![0], pulses, ms });
  }
  return parts;
}
