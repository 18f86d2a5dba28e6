/** Trend of daily rates: a slope that a few odd days cannot bend, and whether it is more than chance. */
import { countTies, kendallExactTail, kendallScore, scoreOf } from './kendall.js';
import { medianOfSorted } from './median.js';
import { normalTwoSided, normalUpperQuantile } from './normal.js';
import { CORRECTION, correctVariance, type CorrectionOptions } from './serial-correlation.js';

export interface Slope {
  /** median of the slopes between all pairs, per unit of time */
  slope: number;
  /** median of x less slope times median of t (Conover): the line at t = 0 */
  intercept: number;
  /** limits of the slope; ±Infinity where the pairs are too few for the confidence */
  lower: number;
  upper: number;
  /** pairs with different times */
  pairs: number;
}

/** `interpolate` between neighbouring slopes (Gilbert), or `round` to one that occurred (Sen). */
export type LimitRanks = 'interpolate' | 'round';

/** The value at a 1-based rank that need not be whole; Infinity beyond the ends. */
function valueAt(sorted: readonly number[], rank: number): number {
  if (rank < 1) return -Infinity;
  if (rank > sorted.length) return Infinity;
  const below = Math.floor(rank);
  const low = sorted[below - 1]!;
  return rank === below ? low : low + (rank - below) * (sorted[below]! - low);
}

/**
 * Theil-Sen slope of x over t with limits from the variance of Kendall's S, which the caller may have widened for serial correlation.
 * Pairs of equal times are left out. Null: no two different times. Lists of equal length, else RangeError.
 * Source: P. K. Sen, JASA 63 (1968) 1379-1389; limits R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring
 * (1987) section 16.5; intercept W. J. Conover, Practical Nonparametric Statistics (1980).
 */
export function estimateSlope(
  t: readonly number[],
  x: readonly number[],
  variance: number,
  confidence: number,
  ranks: LimitRanks = 'interpolate',
): Slope | null {
  const slopes = pairSlopes(t, x);
  const slope = medianOfSorted(slopes);
  if (slope === null) return null;
  const half = normalUpperQuantile((1 - confidence) / 2) * Math.sqrt(variance);
  const lowRank = (slopes.length - half) / 2;
  const highRank = (slopes.length + half) / 2 + 1;
  const place = (rank: number): number => (ranks === 'round' ? Math.round(rank) : rank);
  const middle = (values: readonly number[]): number => medianOfSorted([...values].sort((a, b) => a - b))!;
  return {
    slope,
    intercept: middle(x) - slope * middle(t),
    lower: valueAt(slopes, place(lowRank)),
    upper: valueAt(slopes, place(highRank)),
    pairs: slopes.length,
  };
}

/** Slopes between all pairs of different times, in rising order. */
function pairSlopes(t: readonly number[], x: readonly number[]): number[] {
  if (t.length !== x.length) throw new RangeError(`trend: ${t.length} times but ${x.length} values`);
  const slopes: number[] = [];
  for (let i = 0; i < t.length; i++) {
    for (let j = i + 1; j < t.length; j++) {
      if (t[j] !== t[i]) slopes.push((x[j]! - x[i]!) / (t[j]! - t[i]!));
    }
  }
  return slopes.sort((a, b) => a - b);
}

export interface Trend extends Slope {
  n: number;
  s: number;
  /** of S, serial correlation allowed for */
  variance: number;
  /** by which serial correlation multiplied it, ≥ 1 unless the options say otherwise */
  correction: number;
  z: number;
  /** two-sided */
  p: number;
}

/** Values up to which, without ties or serial correlation, p is counted out exactly: as printed tables do. */
const EXACT_MAX = 10;

/**
 * Mann-Kendall test and Theil-Sen slope with limits of one width for both: the variance of S is widened for serial correlation of the
 * detrended values. t in rising order, any unit; x for instance ln of like-for-like daily rates, so that the slope is a relative
 * growth. Null: fewer than 4 values, or no two different times. Source: H. B. Mann, Econometrica 13 (1945) 245-259, and those of the
 * parts.
 */
export function findTrend(
  t: readonly number[],
  x: readonly number[],
  confidence = 0.95,
  options: CorrectionOptions = CORRECTION,
): Trend | null {
  if (t.length < 4) return null;
  const plain = kendallScore(t, x);
  const first = estimateSlope(t, x, plain.variance, confidence);
  if (first === null) return null;
  const detrended = x.map((value, i) => value - first.slope * (t[i]! - t[0]!));
  const correction = correctVariance(detrended, options);
  const variance = plain.variance * correction;
  const z = scoreOf(plain.s, variance);
  const isExact =
    t.length <= EXACT_MAX && correction === 1 && countTies(t).length === 0 && countTies(x).length === 0;
  const p = isExact ? Math.min(1, 2 * kendallExactTail(t.length, Math.abs(plain.s))) : normalTwoSided(z);
  const slope = correction === 1 ? first : estimateSlope(t, x, variance, confidence)!;
  return { ...slope, n: plain.n, s: plain.s, variance, correction, z, p };
}
