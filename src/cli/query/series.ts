/** The running rate of one sensor over a span, reduced to what a screen can show, with limits and what the baseline predicts. */
import type { Series, SeriesPoint, SeriesQuery } from '../../api/charts-reader.js';
import type { BaselineTold } from '../../advice/baseline.js';
import { Class } from '../../core/words.js';
import { trueRatePerS } from '../../stats/dead-time.js';
import { rateLimits } from '../../stats/poisson.js';
import {
  readBucketBins,
  readBuckets,
  readNewest,
  readOldest,
  type Bucket,
  type BucketBin,
} from '../../store/read-series.js';
import type { ReadStore } from '../../store/reader.js';
import { emptySums } from '../../store/rollup-row.js';
import { baselineOf } from './baselines.js';
import { readTotal } from './span-total.js';
import { choosePieceMs, listPieces } from './series-pieces.js';
import { chooseSpan } from './series-span.js';
import { TrailingSpread } from './trailing-spread.js';

const CONFIDENCE = 0.95;
const MINUTE_MS = 60_000;
/** Share of a bucket's running time for which there must be a yardstick. Our choice. */
const BASELINE_SHARE_MIN = 0.5;

export function answerSeries(reader: ReadStore, query: SeriesQuery): Series {
  const { sensor } = query;
  const newest = readNewest(reader, sensor);
  const { from, to, bucketMs, period } = chooseSpan(query, readOldest(reader, sensor), newest);
  const span = { sensor, from, to, bucketMs };
  const buckets = readBuckets(reader, period, span);
  const bins = groupBins(readBucketBins(reader, span));
  const told = baselineOf(reader, sensor);
  const context: Context = {
    query,
    bucketMs,
    bins,
    spread: TrailingSpread.read(reader, sensor, from, to),
    yardsticks: readYardsticks(told),
    yardsticksFrom: told.since ?? -Infinity,
  };
  const points = fillGaps(buckets, bucketMs).map((bucket) => toPoint(bucket, context));
  const pieceMs = choosePieceMs({ from, to, bucketMs });
  const pieces = listPieces(points, pieceMs, { confidence: CONFIDENCE, deadTimeS: query.deadTimeS });
  const { total, hours } = query.hasTotal ? readTotal(reader, query) : { total: null, hours: null };
  return { sensor, from, to, period, bucketMs, baseline: told, points, pieceMs, pieces, total, hours };
}

interface Context {
  readonly query: SeriesQuery;
  readonly bucketMs: number;
  readonly bins: ReadonlyMap<number, readonly BucketBin[]>;
  readonly spread: TrailingSpread;
  /** rate by bin, pulses per ms as counted */
  readonly yardsticks: ReadonlyMap<string, number>;
  /** what ran before is not comparable with them, ms */
  readonly yardsticksFrom: number;
}

function groupBins(rows: readonly BucketBin[]): Map<number, BucketBin[]> {
  const found = new Map<number, BucketBin[]>();
  for (const row of rows) {
    const list = found.get(row.start);
    if (list === undefined) found.set(row.start, [row]);
    else list.push(row);
  }
  return found;
}

function readYardsticks({ bins }: BaselineTold): Map<string, number> {
  const learnt = bins.filter(({ state, ms }) => state === 'learnt' && ms > 0);
  return new Map(learnt.map(({ bin, pulses, ms }) => [bin, pulses / ms]));
}

/** A bucket in which nothing is stored is one without exposure: the line must break there. */
function fillGaps(buckets: readonly Bucket[], bucketMs: number): Bucket[] {
  const filled: Bucket[] = [];
  for (const bucket of buckets) {
    let next = (filled[filled.length - 1]?.start ?? bucket.start - bucketMs) + bucketMs;
    for (; next < bucket.start; next += bucketMs)
      filled.push({ start: next, ...emptySums(), leastRate: null, mostRate: null });
    filled.push(bucket);
  }
  return filled;
}

function toPoint(bucket: Bucket, context: Context): SeriesPoint {
  const { query, bucketMs } = context;
  const { deadTimeS } = query;
  const end = bucket.start + bucketMs;
  const pulses = bucket.pulses[Class.running]!;
  const ms = bucket.ms[Class.running]!;
  const bins = binsOf(bucket, context);
  const { dispersion, uncertain } = context.spread.at(end, ms === 0 ? [] : bins.map(({ bin }) => bin));
  const limits = rateLimits(pulses, ms, { confidence: CONFIDENCE, dispersion, deadTimeS });
  const perMin = (rate: number | null): number | null => (rate === null ? null : correct(rate, deadTimeS));
  const doubtful = uncertain || bucket.uncertainMs > 0 || !query.hasRunState || limits?.uncertain === true;
  return {
    ...{ start: bucket.start, end, pulses, ms, dispersion },
    mean: limits?.ratePerMin ?? null,
    least: perMin(bucket.leastRate),
    most: perMin(bucket.mostRate),
    lower: limits?.lowerPerMin ?? null,
    upper: limits?.upperPerMin ?? null,
    quality: limits === null ? 'bad' : doubtful ? 'uncertain' : 'good',
    baseline: ms === 0 || end <= context.yardsticksFrom ? null : perMin(predict(bins, context.yardsticks)),
    classPulses: bucket.pulses,
    classMs: bucket.ms,
  };
}

/** Of a bucket below a minute the bins are those of its minute; what has none ran in the bin `all`. */
function binsOf(bucket: Bucket, { bins, bucketMs }: Context): readonly { bin: string; ms: number }[] {
  const group = Math.max(bucketMs, MINUTE_MS);
  const own = bins.get(Math.floor(bucket.start / group) * group);
  return own ?? [{ bin: 'all', ms: bucket.ms[Class.running]! }];
}

/** The rate that the yardsticks predict for a mix of conditions, pulses per ms as counted; null: too little of it has one. */
function predict(
  bins: readonly { bin: string; ms: number }[],
  yardsticks: ReadonlyMap<string, number>,
): number | null {
  let known = 0;
  let all = 0;
  let expected = 0;
  for (const { bin, ms } of bins) {
    all += ms;
    const rate = yardsticks.get(bin);
    if (rate === undefined) continue;
    known += ms;
    expected += rate * ms;
  }
  return known > 0 && known >= BASELINE_SHARE_MIN * all ? expected / known : null;
}

function correct(ratePerMs: number, deadTimeS: number): number {
  return 60 * trueRatePerS(1000 * ratePerMs, deadTimeS);
}
