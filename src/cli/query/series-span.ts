/** How long the buckets of a drawn series are, and which stored rollups they are summed from. Pure. */
import { PERIOD_MS, type Period } from '../../core/words.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/** Lengths that a person can name. Each divides the next that is a multiple of it, and all are multiples of a period. */
export const BUCKETS_MS: readonly number[] = [
  ...[10_000, 20_000, 30_000],
  ...[1, 2, 5, 10, 20, 30].map((minutes) => minutes * MINUTE_MS),
  ...[1, 2, 3, 6, 12].map((hours) => hours * HOUR_MS),
  ...[1, 2, 7, 14, 28, 56, 91, 182, 364].map((days) => days * DAY_MS),
];

/** Most rows read of each period: more would keep a reader waiting for differences that no screen shows. */
const ROWS_MOST: Readonly<Record<Period, number>> = {
  '10s': 9_000,
  '1m': 50_000,
  '10m': 60_000,
  '1h': 200_000,
};

const PERIODS: readonly Period[] = ['10s', '1m', '10m', '1h'];

export interface SeriesSpan {
  readonly from: number;
  readonly to: number;
  readonly bucketMs: number;
  readonly period: Period;
}

/**
 * Whole buckets that cover [from, to), at most `points`, and the finest rollups that reach back as far as the hours do and
 * are not too many. `oldest`: start of the oldest row of each period; null: none. Where short periods are no longer kept
 * the buckets are longer than `points` would allow.
 */
export function chooseSpan(
  asked: { readonly from: number; readonly to: number; readonly points: number },
  oldest: Readonly<Record<Period, number | null>>,
  newest: number | null,
): SeriesSpan {
  const { from, to, points } = asked;
  const begin = Math.max(from, oldest['1h'] ?? from);
  const end = Math.min(to, newest ?? to);
  const reaches = (period: Period): boolean =>
    oldest[period] !== null && oldest[period] <= begin + PERIOD_MS['1h'];
  const isFew = (period: Period): boolean => (end - begin) / PERIOD_MS[period] <= ROWS_MOST[period];
  const fits = (bucketMs: number): boolean => countBuckets(from, to, bucketMs) <= points;
  for (const bucketMs of BUCKETS_MS) {
    if (!fits(bucketMs)) continue;
    const period = PERIODS.find(
      (each) => bucketMs % PERIOD_MS[each] === 0 && (each === '1h' || (reaches(each) && isFew(each))),
    );
    if (period !== undefined) return { ...widen(from, to, bucketMs), bucketMs, period };
  }
  const longest = BUCKETS_MS[BUCKETS_MS.length - 1]!;
  return { ...widen(from, to, longest), bucketMs: longest, period: '1h' };
}

function widen(from: number, to: number, bucketMs: number): { from: number; to: number } {
  return { from: Math.floor(from / bucketMs) * bucketMs, to: Math.ceil(to / bucketMs) * bucketMs };
}

function countBuckets(from: number, to: number, bucketMs: number): number {
  const span = widen(from, to, bucketMs);
  return (span.to - span.from) / bucketMs;
}
