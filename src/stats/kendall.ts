/** Kendall's rank statistic S of two lists: concordant less discordant pairs, with ties in either. */
import { normalTwoSided } from './normal.js';

export interface KendallScore {
  n: number;
  /** concordant less discordant pairs */
  s: number;
  /** variance of S if the lists have nothing to do with one another, ties allowed for */
  variance: number;
  /** (S ∓ 1) / √variance; 0 where S is 0 or the variance 0 */
  z: number;
  /** two-sided, by the normal distribution; 1 where z is 0 */
  p: number;
  /** S over all pairs */
  tauA: number;
  /** S over the pairs that are not tied, by the geometric mean; null: a list of equal values */
  tauB: number | null;
}

/** Lengths of the runs of equal values that are longer than 1. */
export function countTies(values: readonly number[]): number[] {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts.values()].filter((count) => count > 1);
}

/** Continuity-corrected z of S: one step nearer to 0, for S moves in steps of 2. */
export function scoreOf(s: number, variance: number): number {
  return s === 0 || !(variance > 0) ? 0 : (s - Math.sign(s)) / Math.sqrt(variance);
}

function sumOver(ties: readonly number[], term: (t: number) => number): number {
  return ties.reduce((sum, t) => sum + term(t), 0);
}

/**
 * S, its variance and what follows, for two lists of equal length; RangeError otherwise. With x the times it is the trend test of
 * Mann. All pairs are looked at: n² steps.
 * Source: M. G. Kendall, Rank Correlation Methods, 4th ed. (1976), chapters 3 and 4 (variance with ties in both lists).
 */
export function kendallScore(x: readonly number[], y: readonly number[]): KendallScore {
  const n = x.length;
  if (y.length !== n) throw new RangeError(`kendallScore: lists of ${n} and ${y.length} values`);
  let s = 0;
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) s += Math.sign(x[j]! - x[i]!) * Math.sign(y[j]! - y[i]!);
  }
  const tiesX = countTies(x);
  const tiesY = countTies(y);
  const cubic = (t: number): number => t * (t - 1) * (2 * t + 5);
  const triple = (t: number): number => t * (t - 1) * (t - 2);
  const double = (t: number): number => t * (t - 1);
  const variance =
    (cubic(n) - sumOver(tiesX, cubic) - sumOver(tiesY, cubic)) / 18 +
    (n > 2 ? (sumOver(tiesX, triple) * sumOver(tiesY, triple)) / (9 * triple(n)) : 0) +
    (n > 1 ? (sumOver(tiesX, double) * sumOver(tiesY, double)) / (2 * double(n)) : 0);
  const pairs = double(n) / 2;
  const untied = Math.sqrt((pairs - sumOver(tiesX, double) / 2) * (pairs - sumOver(tiesY, double) / 2));
  const z = scoreOf(s, variance);
  return {
    n,
    s,
    variance,
    z,
    p: normalTwoSided(z),
    tauA: pairs > 0 ? s / pairs : 0,
    tauB: untied > 0 ? s / untied : null,
  };
}

/**
 * P(S ≥ s) for n values without ties in an order that says nothing: by counting the orders with each number of inversions. For short
 * lists, where the normal distribution is off; n up to 170.
 * Source: M. G. Kendall, same book, section 5.2: the recurrence over n.
 */
export function kendallExactTail(n: number, s: number): number {
  const most = (n * (n - 1)) / 2;
  let chance = [1];
  for (let m = 2; m <= n; m++) {
    const next = new Array<number>((m * (m - 1)) / 2 + 1).fill(0);
    chance.forEach((p, discordant) => {
      for (let more = 0; more < m; more++) next[discordant + more]! += p / m;
    });
    chance = next;
  }
  let tail = 0;
  for (let discordant = 0; discordant <= most; discordant++) {
    if (most - 2 * discordant >= s) tail += chance[discordant]!;
  }
  return Math.min(1, tail);
}
