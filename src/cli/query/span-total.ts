/** The running rate over a whole span with its limits, judged by its days: increments are not kept for as long as reports reach back. */
import type { SeriesQuery, SpanHours, SpanTotal } from '../../api/charts-reader.js';
import { Class } from '../../core/words.js';
import { trueRatePerS } from '../../stats/dead-time.js';
import { rateOverDays } from '../../stats/days-rate.js';
import { readBuckets } from '../../store/read-series.js';
import { emptySums } from '../../store/rollup-row.js';
import type { ReadStore } from '../../store/reader.js';

const CONFIDENCE = 0.95;
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

/** Of whole hours, by days of UTC. `total` null: nothing ran. */
export function readTotal(
  reader: ReadStore,
  { sensor, from, to, deadTimeS }: Pick<SeriesQuery, 'sensor' | 'from' | 'to' | 'deadTimeS'>,
): { readonly total: SpanTotal | null; readonly hours: SpanHours } {
  const span = { from: Math.floor(from / HOUR_MS) * HOUR_MS, to: Math.ceil(to / HOUR_MS) * HOUR_MS };
  const buckets = readBuckets(reader, '1h', { sensor, ...span, bucketMs: DAY_MS, hasRates: false });
  const days = buckets.map(({ pulses, ms }) => ({
    ...{ pulses: pulses[Class.running]!, exposureMs: ms[Class.running]! },
  }));
  const sums = emptySums();
  for (const { pulses, ms } of buckets)
    for (const place of sums.pulses.keys()) {
      sums.pulses[place]! += pulses[place]!;
      sums.ms[place]! += ms[place]!;
    }
  const hours = { ...span, classPulses: sums.pulses, classMs: sums.ms };
  const found = rateOverDays(days, CONFIDENCE);
  if (found === null) return { total: null, hours };
  const perMin = (perMs: number): number => 60 * trueRatePerS(1000 * perMs, deadTimeS);
  const total = {
    pulses: days.reduce((sum, day) => sum + day.pulses, 0),
    ms: days.reduce((sum, day) => sum + day.exposureMs, 0),
    ...{ mean: perMin(found.rate), lower: perMin(found.lower), upper: perMin(found.upper) },
    ...{ days: found.days, isUncertain: found.isUncertain },
  };
  return { total, hours };
}
