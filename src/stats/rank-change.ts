/** A change of level judged by ranks alone: for daily rates, where no model of their spread is wanted. */

export interface RankChange {
  /** values before the change */
  index: number;
  /** largest |U| over the splits */
  statistic: number;
  /** two-sided; approximate, at most 1 */
  p: number;
}

/**
 * Pettitt's test: U(t) adds sign(x[j] − x[i]) over all i before and j after the split. The first split with the largest |U| stands.
 * Null: fewer than 2 values. Source: A. N. Pettitt, A non-parametric approach to the change-point problem, Applied Statistics 28 (1979)
 * 126-135, p ≈ 2 exp(−6 K² / (n³ + n²)).
 */
export function findRankChange(x: readonly number[]): RankChange | null {
  const n = x.length;
  if (n < 2) return null;
  let u = 0;
  let statistic = -1;
  let index = 1;
  for (let t = 0; t < n - 1; t++) {
    for (let j = 0; j < n; j++) u += Math.sign(x[j]! - x[t]!);
    if (Math.abs(u) <= statistic) continue;
    statistic = Math.abs(u);
    index = t + 1;
  }
  return { index, statistic, p: Math.min(1, 2 * Math.exp((-6 * statistic ** 2) / (n ** 3 + n ** 2))) };
}
