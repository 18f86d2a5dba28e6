/**
 * Reads a sensor's sums for drawing: rollups of one stored period summed by SQLite into longer buckets, with the lowest and
 * the highest running rate of the rollups in each. A year of 10 min is 52,560 rows a sensor, and a screen has a few thousand
 * columns: the rows themselves never leave the database.
 */
import { Class, PERIOD_MS, type Period } from '../core/words.js';
import type { Sums } from '../core/rows.js';
import { readRollups } from './read-rollups.js';
import type { ReadStore } from './reader.js';
import { BIN_DAYS, BIN_TABLES, DAY_MS, emptySums, ROLLUP_TABLES, toSums } from './rollup-row.js';
import { SUM_COLUMNS } from './schema.js';

/** Sums of one bucket. Rates in pulses per ms of running exposure, as counted; null: none of its rollups ran. */
export interface Bucket extends Sums {
  readonly start: number;
  leastRate: number | null;
  mostRate: number | null;
}

/** Running sums of one bucket in one condition bin. */
export interface BucketBin {
  readonly start: number;
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
}

/** Multiples of `bucketMs` since the epoch with `from <= start < to`; `from` and `to` are such multiples. */
export interface BucketQuery {
  readonly sensor: string;
  readonly from: number;
  readonly to: number;
  readonly bucketMs: number;
}

/** Start of the oldest row of each period, ms; null: nothing of that kind. */
export function readOldest(reader: ReadStore, sensor: string): Readonly<Record<Period, number | null>> {
  const id = idOf(reader, sensor);
  const oldest = (column: string, table: string): number | null =>
    reader.value(`SELECT min(${column}) FROM ${table} WHERE sensor = ?`, id) as number | null;
  return {
    '10s': oldest('to_ms', 'increment'),
    '1m': oldest('start', ROLLUP_TABLES['1m']),
    '10m': oldest('start', ROLLUP_TABLES['10m']),
    '1h': oldest('start', ROLLUP_TABLES['1h']),
  };
}

/** End of the newest rollup of 1 min; null: there is none. */
export function readNewest(reader: ReadStore, sensor: string): number | null {
  const id = idOf(reader, sensor);
  const start = reader.value('SELECT max(start) FROM rollup_1m WHERE sensor = ?', id) as number | null;
  return start === null ? null : start + PERIOD_MS['1m'];
}

/** Buckets that hold anything, in order of time. `period` divides `bucketMs`. */
export function readBuckets(reader: ReadStore, period: Period, query: BucketQuery): Bucket[] {
  return period === '10s' ? sumWindows(reader, query) : sumStored(reader, period, query);
}

const RUNNING = `p${Class.running} * 1.0 / nullif(m${Class.running}, 0)`;

function sumStored(
  reader: ReadStore,
  period: '1m' | '10m' | '1h',
  { sensor, from, to, bucketMs }: BucketQuery,
): Bucket[] {
  const columns = SUM_COLUMNS.map((name) => `sum(${name})`).join(', ');
  return reader
    .all(
      `SELECT start / ${bucketMs} AS bucket, ${columns}, min(${RUNNING}), max(${RUNNING}) FROM ${ROLLUP_TABLES[period]}
       WHERE sensor = ? AND start >= ? AND start < ? GROUP BY bucket ORDER BY bucket`,
      ...[idOf(reader, sensor), from, to],
    )
    .map((cells) => ({
      start: (cells[0] as number) * bucketMs,
      ...toSums(cells as number[], 1),
      leastRate: cells[SUM_COLUMNS.length + 1] as number | null,
      mostRate: cells[SUM_COLUMNS.length + 2] as number | null,
    }))
    .filter((bucket) => bucket.ms.some((ms) => ms > 0) || bucket.pulses.some((pulses) => pulses > 0));
}

const WINDOWS_MOST = 100_000;

function sumWindows(reader: ReadStore, { sensor, from, to, bucketMs }: BucketQuery): Bucket[] {
  const page = { from, to, limit: WINDOWS_MOST, cursor: null };
  const found: Bucket[] = [];
  for (const row of readRollups(reader, { ...page, sensor, period: '10s' }).items) {
    const start = Math.floor(row.start / bucketMs) * bucketMs;
    let bucket = found[found.length - 1];
    if (bucket?.start !== start) {
      bucket = { start, ...emptySums(), leastRate: null, mostRate: null };
      found.push(bucket);
    }
    addSums(bucket, row);
    const ms = row.ms[Class.running]!;
    if (ms === 0) continue;
    const rate = row.pulses[Class.running]! / ms;
    bucket.leastRate = Math.min(bucket.leastRate ?? Infinity, rate);
    bucket.mostRate = Math.max(bucket.mostRate ?? 0, rate);
  }
  return found;
}

function addSums(sum: Sums, row: Sums): void {
  row.pulses.forEach((pulses, i) => (sum.pulses[i]! += pulses));
  row.ms.forEach((ms, i) => (sum.ms[i]! += ms));
  sum.uncertainMs += row.uncertainMs;
}

/**
 * Condition bins of the buckets, in order of time; of buckets below a minute, those of the minute. What has no bin of its
 * own is left out, and so is the hour that is not over yet where whole hours are read.
 */
export function readBucketBins(
  reader: ReadStore,
  { sensor, from, to, bucketMs }: BucketQuery,
): readonly BucketBin[] {
  const table = tableFor(bucketMs);
  const group = Math.max(bucketMs, PERIOD_MS['1m']);
  const first = Math.floor(from / group) * group;
  const rows = reader.all(
    `SELECT start / ${group} AS bucket, (SELECT text FROM name WHERE id = bin), sum(pulses), sum(ms) FROM ${table}
     WHERE sensor = ? AND start >= ? AND start < ? GROUP BY bucket, bin HAVING sum(ms) > 0 ORDER BY bucket`,
    ...[idOf(reader, sensor), first, to],
  ) as [number, string, number, number][];
  return rows.map(([bucket, bin, pulses, ms]) => ({ start: bucket * group, bin, pulses, ms }));
}

function tableFor(bucketMs: number): string {
  if (bucketMs % DAY_MS === 0) return BIN_DAYS;
  if (bucketMs % PERIOD_MS['1h'] === 0) return BIN_TABLES['1h'];
  return bucketMs % PERIOD_MS['10m'] === 0 ? BIN_TABLES['10m'] : BIN_TABLES['1m'];
}

/** Spread sums of whole hours, or of whole days where `unitMs` is a day: they add up. */
export interface SpreadRow {
  readonly start: number;
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
  readonly q: readonly [number, number, number, number];
  readonly k: readonly [number, number, number, number];
}

/** In order of time, of hours with `from <= start < to`. */
export function readSpreads(
  reader: ReadStore,
  query: { readonly sensor: string; readonly from: number; readonly to: number; readonly unitMs: number },
): SpreadRow[] {
  const sums = ['pulses', 'ms', 'q0', 'q1', 'q2', 'q3', 'k0', 'k1', 'k2', 'k3'];
  const rows = reader.all(
    `SELECT hour / ${query.unitMs} AS unit, (SELECT text FROM name WHERE id = bin), ${sums.map((name) => `sum(${name})`).join(', ')}
     FROM spread WHERE sensor = ? AND hour >= ? AND hour < ? GROUP BY unit, bin ORDER BY unit`,
    ...[idOf(reader, query.sensor), query.from, query.to],
  );
  return rows.map((cells) => {
    const [pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3] = cells.slice(2) as number[];
    return {
      start: (cells[0] as number) * query.unitMs,
      bin: cells[1] as string,
      ...{ pulses: pulses!, ms: ms!, q: [q0!, q1!, q2!, q3!], k: [k0!, k1!, k2!, k3!] },
    };
  });
}

function idOf(reader: ReadStore, name: string): number {
  return (reader.value('SELECT id FROM name WHERE text = ?', name) as number | null) ?? -1;
}
