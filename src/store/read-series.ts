/**
 * Reads a sensor's sums for drawing: rollups of one stored period summed by SQLite into longer buckets, with the lowest and
 * the highest running rate of the minutes in each, so that one minute of discharges is seen in a year. A year of minutes is
 * 525,600 rows a sensor, and a screen has a few thousand columns: the rows themselves never leave the database.
 */
import { Class, PERIOD_MS, type Period } from '../core/words.js';
import type { Sums } from '../core/rows.js';
import { readRollups } from './read-rollups.js';
import type { ReadStore } from './reader.js';
import { BIN_TABLES, emptySums, ROLLUP_TABLES, toSums } from './rollup-row.js';
import { SUM_COLUMNS } from './schema.js';

/** Newest minutes that extremes are looked for in: those of 400 days, as they are kept unless configured otherwise. */
const MINUTES_MOST_MS = 400 * 86_400_000;

/**
 * Sums of one bucket. Rates in pulses per ms of running exposure, as counted, of its minutes as far back as they are kept, of longer
 * rollups before that; null: none of them ran.
 */
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
  /** false: nobody asks for the lowest and the highest rate, and they stay null; absent: they are read */
  readonly hasRates?: boolean;
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

/**
 * Buckets that hold anything, in order of time. `period` divides `bucketMs`. A rollup is stored when its period is over, so
 * what is newer comes from the shorter ones, and the newest minute from its windows.
 */
export function readBuckets(reader: ReadStore, period: Period, query: BucketQuery): Bucket[] {
  const id = idOf(reader, query.sensor);
  const buckets = new Map<number, Bucket>();
  const bucketAt = (start: number): Bucket => {
    const found = buckets.get(start) ?? { start, ...emptySums(), leastRate: null, mostRate: null };
    buckets.set(start, found);
    return found;
  };
  for (const piece of listPieces(reader, id, coarsestFor(period, query.bucketMs), query)) {
    if (piece.period === '10s') addWindows(reader, query, piece, bucketAt);
    else addStored(reader, id, piece.period, { ...piece, bucketMs: query.bucketMs }, bucketAt);
  }
  const pieces = query.hasRates === false ? [] : listRatePieces(reader, id, period, query);
  for (const { period: each, ...piece } of pieces) {
    if (each === '10s') continue;
    const range = { ...piece, bucketMs: query.bucketMs };
    for (const [start, least, most] of readRates(reader, id, each, range))
      addRates(bucketAt(start), least, most);
  }
  return [...buckets.values()]
    .filter(({ ms, pulses }) => ms.some((each) => each > 0) || pulses.some((each) => each > 0))
    .sort((a, b) => a.start - b.start);
}

/** The longest period that divides the bucket: its sums are the same in fewer rows. */
function coarsestFor(period: Period, bucketMs: number): Period {
  if (period === '10s') return period;
  return (['1h', '10m'] as const).find((each) => bucketMs % PERIOD_MS[each] === 0) ?? period;
}

interface Piece {
  readonly period: Period;
  readonly from: number;
  readonly to: number;
}

const SHORTER: Readonly<Record<Period, Period | null>> = {
  '1h': '10m',
  '10m': '1m',
  '1m': '10s',
  '10s': null,
};

/** Of `period` as far as it is stored, then of the shorter ones. */
function listPieces(
  reader: ReadStore,
  id: number,
  period: Period,
  { from, to }: Omit<Piece, 'period'>,
): Piece[] {
  const pieces: Piece[] = [];
  let begin = from;
  for (let each: Period | null = period; each !== null && begin < to; each = SHORTER[each]) {
    const end = each === '10s' ? to : Math.min(to, endOf(reader, id, each) ?? begin);
    if (end <= begin) continue;
    pieces.push({ period: each, from: begin, to: end });
    begin = end;
  }
  return pieces;
}

/** As `listPieces`, yet of minutes from where on they are kept, and are not too many. */
function listRatePieces(reader: ReadStore, id: number, period: Period, span: Omit<Piece, 'period'>): Piece[] {
  const pieces = listPieces(reader, id, period, span);
  if (period !== '10m' && period !== '1h') return pieces;
  const oldest = reader.value('SELECT min(start) FROM rollup_1m WHERE sensor = ?', id) as number | null;
  const newest = endOf(reader, id, '1m');
  if (oldest === null || newest === null) return pieces;
  const fineFrom = Math.max(oldest, span.from, Math.min(newest, span.to) - MINUTES_MOST_MS);
  return [
    ...pieces.flatMap((piece) =>
      piece.from < fineFrom ? { ...piece, to: Math.min(piece.to, fineFrom) } : [],
    ),
    ...(fineFrom < span.to ? listPieces(reader, id, '1m', { from: fineFrom, to: span.to }) : []),
  ];
}

function endOf(reader: ReadStore, id: number, period: '1m' | '10m' | '1h'): number | null {
  const sql = `SELECT max(start) FROM ${ROLLUP_TABLES[period]} WHERE sensor = ?`;
  const start = reader.value(sql, id) as number | null;
  return start === null ? null : start + PERIOD_MS[period];
}

interface Range {
  readonly from: number;
  readonly to: number;
  readonly bucketMs: number;
}

type BucketAt = (start: number) => Bucket;

function addStored(
  reader: ReadStore,
  id: number,
  period: '1m' | '10m' | '1h',
  { from, to, bucketMs }: Range,
  bucketAt: BucketAt,
): void {
  const columns = SUM_COLUMNS.map((name) => `sum(${name})`).join(', ');
  const rows = reader.all(
    `SELECT start / ${bucketMs} AS bucket, ${columns} FROM ${ROLLUP_TABLES[period]}
     WHERE sensor = ? AND start >= ? AND start < ? GROUP BY bucket ORDER BY bucket`,
    ...[id, from, to],
  );
  for (const cells of rows) addSums(bucketAt((cells[0] as number) * bucketMs), toSums(cells as number[], 1));
}

const RATE = `p${Class.running} * 1.0 / m${Class.running}`;

/** Lowest and highest running rate of the rollups of each bucket. */
function readRates(
  reader: ReadStore,
  id: number,
  period: '1m' | '10m' | '1h',
  { from, to, bucketMs }: Range,
): [start: number, least: number, most: number][] {
  const rows = reader.all(
    `SELECT start / ${bucketMs} AS bucket, min(${RATE}), max(${RATE}) FROM ${ROLLUP_TABLES[period]}
     WHERE sensor = ? AND start >= ? AND start < ? AND m${Class.running} > 0 GROUP BY bucket`,
    ...[id, from, to],
  ) as [number, number, number][];
  return rows.map(([bucket, least, most]) => [bucket * bucketMs, least, most]);
}

const WINDOWS_MOST = 100_000;

function addWindows(
  reader: ReadStore,
  { sensor, bucketMs }: BucketQuery,
  { from, to }: Piece,
  bucketAt: BucketAt,
): void {
  const page = { from, to, limit: WINDOWS_MOST, cursor: null };
  for (const row of readRollups(reader, { ...page, sensor, period: '10s' }).items) {
    const bucket = bucketAt(Math.floor(row.start / bucketMs) * bucketMs);
    addSums(bucket, row);
    const ms = row.ms[Class.running]!;
    if (ms > 0) addRates(bucket, row.pulses[Class.running]! / ms, row.pulses[Class.running]! / ms);
  }
}

function addRates(bucket: Bucket, least: number, most: number): void {
  bucket.leastRate = Math.min(bucket.leastRate ?? Infinity, least);
  bucket.mostRate = Math.max(bucket.mostRate ?? 0, most);
}

function addSums(sum: Sums, row: Sums): void {
  row.pulses.forEach((pulses, i) => (sum.pulses[i]! += pulses));
  row.ms.forEach((ms, i) => (sum.ms[i]! += ms));
  (sum as { uncertainMs: number }).uncertainMs += row.uncertainMs;
}

/**
 * Condition bins of the buckets, in order of time; of buckets below a minute, those of the minute. What has no bin of its
 * own is left out.
 */
export function readBucketBins(
  reader: ReadStore,
  { sensor, from, to, bucketMs }: BucketQuery,
): readonly BucketBin[] {
  const id = idOf(reader, sensor);
  const group = Math.max(bucketMs, PERIOD_MS['1m']);
  const first = Math.floor(from / group) * group;
  const found = new Map<string, { start: number; bin: string; pulses: number; ms: number }>();
  const add = (at: number, bin: string, pulses: number, ms: number): void => {
    const start = Math.floor(at / group) * group;
    const sum = found.get(`${start} ${bin}`) ?? { start, bin, pulses: 0, ms: 0 };
    found.set(`${start} ${bin}`, { ...sum, pulses: sum.pulses + pulses, ms: sum.ms + ms });
  };
  for (const piece of listPieces(reader, id, coarsestFor('1m', group), { from: first, to })) {
    if (piece.period !== '10s') {
      for (const row of sumBins(reader, id, piece, group)) add(...row);
      continue;
    }
    const page = { from: piece.from, to: piece.to, limit: WINDOWS_MOST, cursor: null };
    for (const row of readRollups(reader, { ...page, sensor, period: '10s' }).items)
      for (const { bin, pulses, ms } of row.bins) add(row.start, bin, pulses, ms);
  }
  return [...found.values()].sort((a, b) => a.start - b.start);
}

function sumBins(
  reader: ReadStore,
  id: number,
  { period, from, to }: Piece,
  group: number,
): [start: number, bin: string, pulses: number, ms: number][] {
  const table = BIN_TABLES[period as '1m' | '10m' | '1h'];
  const rows = reader.all(
    `SELECT start / ${group} AS bucket, (SELECT text FROM name WHERE id = bin), sum(pulses), sum(ms) FROM ${table}
     WHERE sensor = ? AND start >= ? AND start < ? GROUP BY bucket, bin HAVING sum(ms) > 0`,
    ...[id, from, to],
  ) as [number, string, number, number][];
  return rows.map(([bucket, bin, pulses, ms]) => [bucket * group, bin, pulses, ms]);
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
