/** Reads rollups: the stored ones, and the 10 s windows as sums of their increments. */
import { addToBins } from '../core/bin-sums.js';
import { Class, Flag, PERIOD_MS, type Period } from '../core/words.js';
import { FIRST, fromCursor, LAST, toPage, type Page, type PageQuery } from './page.js';
import { addBins } from './read-bins.js';
import type { ReadConnection } from './read-connection.js';
import { emptySums, ROLLUP_TABLES, sortBins, toSums, type RollupRow } from './rollup-row.js';
import { SUM_COLUMNS } from './schema.js';

export interface RollupQuery extends PageQuery {
  /** null: all */
  readonly sensor: string | null;
  readonly period: Period;
}

interface Range {
  readonly id: number;
  readonly sensor: string;
  readonly from: number;
  readonly to: number;
  readonly limit: number;
}

type WindowCells = [
  to: number,
  duration: number,
  pulses: number,
  cls: number,
  flags: number,
  bin: string | null,
];

const WINDOW_MS = PERIOD_MS['10s'];
const SLICE_ROWS = 4000;

/** Ordered by (sensor, start). Those that hold nothing are left out. */
export function readRollups(reader: ReadConnection, query: RollupQuery): Page<RollupRow> {
  const [after, start] = fromCursor<[string, number]>(query.cursor, ['', FIRST]);
  const items: RollupRow[] = [];
  for (const { id, key } of reader.sensorIds(query.sensor)) {
    if (key < after) continue;
    const from = Math.max(query.from ?? FIRST, key === after ? start + 1 : FIRST);
    const range = { id, sensor: key, from, to: query.to ?? LAST, limit: query.limit - items.length };
    for (const row of query.period === '10s'
      ? sumWindows(reader, range)
      : readStored(reader, range, query.period))
      items.push(row);
    if (items.length >= query.limit) break;
  }
  return toPage(items, query.limit, (last) => [last.sensor, last.start]);
}

const FILLED = SUM_COLUMNS.map((column) => `${column} <> 0`).join(' OR ');

function readStored(reader: ReadConnection, range: Range, period: '1m' | '10m' | '1h'): RollupRow[] {
  const { id, sensor, from, to, limit } = range;
  const rows: RollupRow[] = reader
    .all(
      `SELECT start, revision, ${SUM_COLUMNS.join(', ')} FROM ${ROLLUP_TABLES[period]}
       WHERE sensor = ? AND start >= ? AND start < ? AND (${FILLED}) ORDER BY start LIMIT ?`,
      id,
      from,
      to,
      limit,
    )
    .map((cells) => ({
      sensor,
      period,
      start: cells[0] as number,
      revision: cells[1] as number,
      ...toSums(cells as number[], 2),
      bins: [],
    }));
  addBins(reader, id, period, rows);
  return rows;
}

/** Windows with `from <= start < to`. One that holds a pending increment is not final, and left out. */
function sumWindows(reader: ReadConnection, { id, sensor, from, to, limit }: Range): RollupRow[] {
  const rows: RollupRow[] = [];
  let open: { row: RollupRow; isPending: boolean } | null = null;
  const close = (): void => {
    if (open !== null && !open.isPending && isFilled(open.row)) {
      open.row.bins = sortBins(open.row, open.row.bins);
      rows.push(open.row);
    }
    open = null;
  };
  const last = lastWindowBefore(to);
  for (const [at, duration, pulses, cls, flags, bin] of readEnds(reader, id, firstWindowFrom(from), last)) {
    const start = Math.floor((at - 1) / WINDOW_MS) * WINDOW_MS;
    if (open === null || open.row.start !== start) {
      close();
      if (rows.length >= limit) break;
      open = {
        row: { sensor, period: '10s', start, revision: 0, ...emptySums(), bins: [] },
        isPending: false,
      };
    }
    const ms = Math.max(0, duration);
    if (cls === Class.pending) open.isPending = true;
    else if (cls !== Class.none) addTo(open.row, cls, pulses, ms, flags);
    if (bin !== null) addToBins(open.row.bins, bin, pulses, ms);
  }
  if (rows.length < limit) close();
  readRevisions(reader, id, rows);
  return rows;
}

function firstWindowFrom(from: number): number {
  return Math.ceil(Math.max(from, 0) / WINDOW_MS) * WINDOW_MS;
}

/** End of the last window that begins before `to`. */
function lastWindowBefore(to: number): number {
  return Math.min(Math.ceil(to / WINDOW_MS) * WINDOW_MS, LAST);
}

function isFilled(row: RollupRow): boolean {
  return row.pulses.some((value) => value !== 0) || row.ms.some((value) => value !== 0);
}

function addTo(row: RollupRow, cls: number, pulses: number, ms: number, flags: number): void {
  row.pulses[cls]! += pulses;
  row.ms[cls]! += ms;
  if ((flags & Flag.uncertain) !== 0) row.uncertainMs += ms;
}

/** Increments with `after < to <= last`, in order of time, fetched in slices: no statement stays open between two rows. */
function* readEnds(reader: ReadConnection, id: number, after: number, last: number): Generator<WindowCells> {
  let place = [after + 1, FIRST, FIRST];
  for (;;) {
    const rows = reader.all(
      `SELECT to_ms, duration, pulses, class, flags, (SELECT text FROM name WHERE id = bin), chain, seq FROM increment
       WHERE sensor = ? AND (to_ms, chain, seq) >= (?, ?, ?) AND to_ms <= ? ORDER BY to_ms, chain, seq LIMIT ${SLICE_ROWS}`,
      id,
      ...place,
      last,
    ) as [...WindowCells, number, number][];
    for (const [at, duration, pulses, cls, flags, bin] of rows) yield [at, duration, pulses, cls, flags, bin];
    const end = rows[rows.length - 1];
    if (end === undefined || rows.length < SLICE_ROWS) return;
    place = [end[0], end[6], end[7] + 1];
  }
}

function readRevisions(reader: ReadConnection, id: number, rows: readonly RollupRow[]): void {
  const first = rows[0];
  if (first === undefined) return;
  const revised = reader.all(
    'SELECT start, revision FROM window_revision WHERE sensor = ? AND start BETWEEN ? AND ?',
    id,
    first.start,
    rows[rows.length - 1]!.start,
  ) as [number, number][];
  const revisions = new Map(revised);
  for (const row of rows) row.revision = revisions.get(row.start) ?? 0;
}
