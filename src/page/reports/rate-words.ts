/** A rate with its limits in words, from sums or from a count. Pure. */
import type { CountBody } from '../../../shared/counts.js';
import type { SeriesBody } from '../../../shared/charts.js';
import { sayLimited } from '../parts/rate-limits.js';
import { formatRate } from '../times.js';

const MINUTE_MS = 60_000;

/** `4.21 (3.90 to 4.55)`; without exposure words that say so. */
export function sayLimits(rate: number | null, lower: number | null, upper: number | null): string {
  if (rate === null) return 'no exposure';
  return sayLimited({ mean: rate, lower: lower ?? 0, upper });
}

export interface SpanRate {
  readonly pulses: number;
  readonly ms: number;
  /** per minute; null: no running exposure */
  readonly rate: number | null;
  /** null: not known for so long a span, or no exposure */
  readonly lower: number | null;
  readonly upper: number | null;
  readonly hasLimits: boolean;
  /** running days that the limits are from; null: from the count */
  readonly days: number | null;
}

/** Increments are not kept as long as their sums: a count that lacks more than this share of the running time says too little. */
const COUNTED_SHARE_LEAST = 0.95;

/** Of the whole span: the count where there is one, otherwise its whole hours, with limits from how its days differ. */
export function rateOfSpan(
  { hours, total }: Pick<SeriesBody, 'hours' | 'total'>,
  count: CountBody | null,
): SpanRate {
  const pulses = hours?.running_pulses ?? 0;
  const ms = hours?.running_ms ?? 0;
  if (count !== null && count.classes.running.ms >= COUNTED_SHARE_LEAST * ms) {
    const { rate_per_min: rate, lower_per_min: lower, upper_per_min: upper } = count;
    return { ...count.classes.running, rate, lower, upper, hasLimits: rate !== null, days: null };
  }
  if (total !== null && total.mean_per_min !== null) {
    const { mean_per_min: rate, lower_per_min: lower, upper_per_min: upper, days } = total;
    return { pulses, ms, rate, lower, upper, hasLimits: true, days };
  }
  const rate = ms === 0 ? null : (pulses * MINUTE_MS) / ms;
  return { pulses, ms, rate, lower: null, upper: null, hasLimits: false, days: null };
}

/** In a sentence or a cell. */
export function saySpanRate({ rate, lower, upper, hasLimits }: SpanRate): string {
  return hasLimits ? sayLimits(rate, lower, upper) : rate === null ? 'no exposure' : formatRate(rate);
}
