/** Figures over rounds. */

/** Middle value; of an even number, the mean of the two in the middle. Throws when there are none. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  const upper = sorted[middle];
  if (upper === undefined) throw new Error('no median of nothing');
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? upper) + upper) / 2;
}

export interface Spread {
  readonly median: number;
  readonly least: number;
  readonly most: number;
}

export function spreadOf(values: readonly number[]): Spread {
  return { median: median(values), least: Math.min(...values), most: Math.max(...values) };
}
