/**
 * The rate over many days with its limits: how much it changes when a day is left out. It needs no model of the bursts, and sees that one
 * day differs from another, which a dispersion of hours does not.
 */
import { dispersionOfBlocks } from './dispersion.js';
import { poissonLimits } from './poisson.js';
import { studentUpperQuantile } from './student.js';

export interface RunningDay {
  readonly pulses: number;
  /** running exposure, above 0 */
  readonly exposureMs: number;
}

export interface DaysRate {
  /** per ms of exposure, as counted */
  readonly rate: number;
  readonly lower: number;
  readonly upper: number;
  /** running days it was judged by */
  readonly days: number;
  /** fewer than `DAYS_MIN` days, or days without pulses at every leaving out: limits by the dispersion of the days there are */
  readonly isUncertain: boolean;
}

/** Running days below which the jackknife is not used: our choice, the same as for comparisons. */
export const DAYS_MIN = 7;

/**
 * Null: no exposure. Never narrower than the limits of Poisson counts.
 * Source: delete-one jackknife of the logarithm of a ratio of sums, B. Efron and C. Stein, The jackknife estimate of variance, Annals of
 * Statistics 9 (1981) 586-596, with Student's t on one degree less than days; deviations from the whole rate, not from their mean, which is
 * the larger: our choice.
 */
export function rateOverDays(all: readonly RunningDay[], confidence: number): DaysRate | null {
  const days = all.filter(({ exposureMs }) => exposureMs > 0);
  const pulses = days.reduce((sum, day) => sum + day.pulses, 0);
  const exposureMs = days.reduce((sum, day) => sum + day.exposureMs, 0);
  if (!(exposureMs > 0)) return null;
  const rate = pulses / exposureMs;
  const width = days.length < DAYS_MIN ? null : lnWidth(days, pulses, exposureMs, confidence);
  const phi = width === null ? dispersionOf(days) : 1;
  const counts = poissonLimits(pulses, confidence, phi);
  const [low, high] = [counts.lower / exposureMs, counts.upper / exposureMs];
  if (width === null) return { rate, lower: low, upper: high, days: days.length, isUncertain: true };
  return {
    rate,
    lower: Math.min(low, rate * Math.exp(-width)),
    upper: Math.max(high, rate * Math.exp(width)),
    days: days.length,
    isUncertain: false,
  };
}

/** Half the width of the limits of ln rate; null: with some day left out nothing was counted. */
function lnWidth(
  days: readonly RunningDay[],
  pulses: number,
  exposureMs: number,
  confidence: number,
): number | null {
  const n = days.length;
  const whole = Math.log(pulses / exposureMs);
  let squares = 0;
  for (const day of days)
    squares += (Math.log((pulses - day.pulses) / (exposureMs - day.exposureMs)) - whole) ** 2;
  const variance = ((n - 1) / n) * squares;
  return Number.isFinite(variance)
    ? Math.sqrt(variance) * studentUpperQuantile((1 - confidence) / 2, n - 1)
    : null;
}

/** Of one day alone nobody knows it: 1. */
function dispersionOf(days: readonly RunningDay[]): number {
  const found = dispersionOfBlocks(
    days.map(({ pulses }) => pulses),
    days.map(({ exposureMs }) => exposureMs / 1000),
  );
  return Math.max(1, found ?? 1);
}
