/**
 * A day resembles the day before it, so a row of days holds less than so many independent values, and a trend test that ignores
 * that calls trends where there are none.
 */
import { normalUpperQuantile } from './normal.js';

/** Lags looked at unless said otherwise: our choice. Days of grease, weather and duty resemble one another for days, not months. */
export const LAGS_MAX = 5;

export interface CorrectionOptions {
  /** longest lag, in steps of the list */
  readonly lagsMax: number;
  /** least factor; 1: the correction may only widen. 0: as published, which a season can make shrink the variance 19-fold */
  readonly floor: number;
  /** two-sided significance that an autocorrelation must reach to count */
  readonly alpha: number;
  /** whether a significant lag 1 stands for a memory that fades day by day; then the larger of the two factors is taken */
  readonly isFading: boolean;
}

export const CORRECTION: CorrectionOptions = { lagsMax: LAGS_MAX, floor: 1, alpha: 0.05, isFading: true };

/** Ranks from 1, equal values share the mean of theirs. */
export function rankValues(values: readonly number[]): number[] {
  const order = values.map((_, i) => i).sort((i, j) => values[i]! - values[j]!);
  const ranks = new Array<number>(values.length).fill(0);
  for (let from = 0; from < order.length;) {
    let to = from + 1;
    while (to < order.length && values[order[to]!] === values[order[from]!]) to += 1;
    for (let i = from; i < to; i++) ranks[order[i]!] = (from + 1 + to) / 2;
    from = to;
  }
  return ranks;
}

/** Autocorrelation at lags 0 … lagsMax, each over the sum of squares of all (the biased estimate). A constant list: 0 at every lag. */
export function correlateWithSelf(values: readonly number[], lagsMax: number): number[] {
  const n = values.length;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  const off = values.map((value) => value - mean);
  const squares = off.reduce((sum, value) => sum + value * value, 0);
  return Array.from({ length: Math.min(lagsMax, n - 1) + 1 }, (_, lag) => {
    let sum = 0;
    for (let i = lag; i < n; i++) sum += off[i]! * off[i - lag]!;
    return squares > 0 ? sum / squares : 0;
  });
}

/**
 * The factor of a memory that fades as ρ^k: 1 + 2 Σ (1 − k/n) ρ^k. `first`: the estimated lag-1 correlation; its bias (4ρ + 2)/n after
 * a line was taken out is put back, and ρ is kept below 0.95.
 * Source: S. Yue and C. Y. Wang, Water Resources Management 18 (2004) 201-218; bias K. H. Hamed, Journal of Hydrology 368 (2009)
 * 143-155, eq. 9.
 */
function fadingFactor(first: number, n: number): number {
  const rho = Math.min(0.95, (n * first + 2) / (n - 4));
  let sum = 0;
  for (let lag = 1; lag < n; lag++) sum += (1 - lag / n) * rho ** lag;
  return 1 + 2 * sum;
}

/**
 * How many times the variance of S is larger than for independent values: 1 + 2/(n(n−1)(n−2)) Σ (n−k)(n−k−1)(n−k−2) ρ(k) over the
 * lags k whose rank autocorrelation ρ is significant. `detrended`: the values less their Theil-Sen line, in order of time, evenly
 * spaced as far as possible. Fewer than 6 values: the floor, or 1.
 * Chosen over pre-whitening because that takes part of a true trend out with the correlation, and cannot do without the lag-1 model.
 * Source: K. H. Hamed and A. R. Rao, A modified Mann-Kendall trend test for autocorrelated data, Journal of Hydrology 204 (1998)
 * 182-196. Our choice: lags and factor are bounded, for negative values at long lags of a seasonal list would feign certainty; and the
 * lags of a fading memory that are each too weak to be significant are added (without: 15 % false calls at ρ = 0.5 and 60 days).
 */
export function correctVariance(
  detrended: readonly number[],
  options: CorrectionOptions = CORRECTION,
): number {
  const n = detrended.length;
  if (n < 6) return Math.max(1, options.floor);
  const correlations = correlateWithSelf(rankValues(detrended), options.lagsMax);
  const bound = normalUpperQuantile(options.alpha / 2) / Math.sqrt(n);
  let sum = 0;
  correlations.forEach((rho, lag) => {
    if (lag > 0 && Math.abs(rho) > bound) sum += (n - lag) * (n - lag - 1) * (n - lag - 2) * rho;
  });
  const factor = Math.max(options.floor, 1 + (2 * sum) / (n * (n - 1) * (n - 2)));
  const first = correlations[1] ?? 0;
  return options.isFading && first > bound ? Math.max(factor, fadingFactor(first, n)) : factor;
}
