/**
 * What a sensor counted in running over a period, as comparisons need it: sums per condition bin, the newest hours' spread
 * sums per bin, and sums per day. Summed by SQLite: a year of hours is thousands of rows a sensor, and none of them is
 * wanted here.
 */
import { LAST } from './page.js';
import type { ReadStore } from './reader.js';
import { BIN_DAYS, BIN_TABLES, DAY_MS } from './rollup-row.js';

const HOUR_MS = 3_600_000;

/** Hours of a bin that its spread is summed over, the newest of the period. See `SideBin.spread` for why. */
const SPREAD_HOURS_MOST = 168;

/** Sums of spreads: see `Spread` in core/rows.ts. */
export interface SpreadSums {
  readonly pulses: number;
  readonly ms: number;
  readonly q: readonly [number, number, number, number];
  readonly k: readonly [number, number, number, number];
}

export interface SideBin {
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
  /**
   * Of up to 168 newest hours of the period in this bin; null: none closed yet. Why not the 48 running hours of a live rate:
   * the counts compared are those of the whole period, and so should be their noise; from 48 of a week's hours φ is known
   * half as well. Why not more: from a week on comparisons take their limits from days and use no φ.
   */
  readonly spread: SpreadSums | null;
}

export interface SideDay {
  /** start of the day (UTC), ms. Any boundary serves: days are only groups wide enough to differ by chance alone. */
  readonly day: number;
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
}

/** A sensor's running sums over whole hours. `from` and `to`: first and last hour (its end) with exposure; null: none. */
export interface SensorSide {
  readonly sensor: string;
  readonly from: number | null;
  readonly to: number | null;
  readonly bins: readonly SideBin[];
}

export interface SideQuery {
  readonly sensor: string;
  /** whole hours whose start lies in [from, to), ms */
  readonly from: number;
  readonly to: number;
}

/** Bins in the order of their names. A sensor that nothing is stored of has none. */
export function readSide(reader: ReadStore, query: SideQuery): SensorSide {
  const id = idOf(reader, query.sensor);
  const none: SensorSide = { sensor: query.sensor, from: null, to: null, bins: [] };
  if (id === null) return none;
  const place = [id, query.from, query.to];
  const edge = (order: string) =>
    reader.value(`SELECT start ${RUNNING_HOURS} ORDER BY start ${order} LIMIT 1`, ...place) as number | null;
  const [first, last] = [edge('ASC'), edge('DESC')];
  if (first === null || last === null) return none;
  const bins = sumBins(reader, place)
    .map(([bin, pulses, ms]) => ({
      bin: textOf(reader, bin),
      pulses,
      ms,
      spread: sumSpread(reader, place, bin),
    }))
    .sort((a, b) => (a.bin < b.bin ? -1 : 1));
  return { sensor: query.sensor, from: first, to: last + HOUR_MS, bins };
}

const RUNNING_HOURS = 'FROM rollup_bin_1h WHERE sensor = ? AND start >= ? AND start < ? AND ms > 0';

/** Rows of the whole days inside a period, and of the hours at its ends; what binds them, in that order. */
function piecesOf([id, from, to]: readonly number[]): { sql: string; place: number[] } {
  const cut = (at: number): number => Math.min(Math.max(at, from!), to!);
  const first = cut(Math.ceil(from! / DAY_MS) * DAY_MS);
  const last = Math.max(first, cut(Math.floor(to! / DAY_MS) * DAY_MS));
  const rows = (table: string): string =>
    `SELECT start, bin, pulses, ms FROM ${table} WHERE sensor = ? AND start >= ? AND start < ?`;
  return {
    sql: `${rows(BIN_TABLES['1h'])} UNION ALL ${rows(BIN_DAYS)} UNION ALL ${rows(BIN_TABLES['1h'])}`,
    place: [id!, from!, first, id!, first, last, id!, last, to!],
  };
}

function sumBins(reader: ReadStore, query: readonly number[]): [bin: number, pulses: number, ms: number][] {
  const { sql, place } = piecesOf(query);
  return reader.all(
    `SELECT bin, sum(pulses), sum(ms) FROM (${sql}) GROUP BY bin HAVING sum(ms) > 0`,
    ...place,
  ) as [number, number, number][];
}

function sumSpread(reader: ReadStore, place: readonly number[], bin: number): SpreadSums | null {
  const [row] = reader.all(
    `SELECT sum(pulses), sum(ms), sum(q0), sum(q1), sum(q2), sum(q3), sum(k0), sum(k1), sum(k2), sum(k3) FROM (
       SELECT * FROM spread WHERE sensor = ? AND hour >= ? AND hour < ? AND bin = ? AND ms > 0
       ORDER BY hour DESC LIMIT ${SPREAD_HOURS_MOST})`,
    ...place,
    bin,
  ) as (number | null)[][];
  if (row === undefined || row[0] === null) return null;
  const [pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3] = row as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  return { pulses, ms, q: [q0, q1, q2, q3], k: [k0, k1, k2, k3] };
}

/** Sums per day and bin, in order of time. */
export function readDays(reader: ReadStore, { sensor, from, to }: SideQuery): SideDay[] {
  const id = idOf(reader, sensor);
  if (id === null) return [];
  const { sql, place } = piecesOf([id, from, to]);
  const rows = reader.all(
    `SELECT start / ${DAY_MS} AS day, bin, sum(pulses), sum(ms) FROM (${sql}) GROUP BY day, bin HAVING sum(ms) > 0`,
    ...place,
  ) as [number, number, number, number][];
  return rows.map(([day, bin, pulses, ms]) => ({ day: day * DAY_MS, bin: textOf(reader, bin), pulses, ms }));
}

/** First and last hour (its end) with running exposure of any of the sensors; null: none ever ran. */
export function readReach(
  reader: ReadStore,
  sensors: readonly string[],
): { from: number; to: number } | null {
  const starts: number[] = [];
  const ends: number[] = [];
  for (const sensor of sensors) {
    const id = idOf(reader, sensor);
    if (id === null) continue;
    const from = reader.value(
      'SELECT start FROM rollup_bin_1h WHERE sensor = ? AND ms > 0 ORDER BY start LIMIT 1',
      id,
    );
    const to = reader.value(
      'SELECT start FROM rollup_bin_1h WHERE sensor = ? AND ms > 0 ORDER BY start DESC LIMIT 1',
      id,
    );
    if (typeof from !== 'number' || typeof to !== 'number') continue;
    starts.push(from);
    ends.push(to + HOUR_MS);
  }
  return starts.length === 0 ? null : { from: Math.min(...starts), to: Math.max(...ends) };
}

/** Running sums of whole hours from the one that holds `from`. */
export function readRunning(reader: ReadStore, sensor: string, from: number): { pulses: number; ms: number } {
  const id = idOf(reader, sensor);
  if (id === null) return { pulses: 0, ms: 0 };
  const { sql, place } = piecesOf([id, Math.floor(from / HOUR_MS) * HOUR_MS, LAST]);
  const [row] = reader.all(`SELECT sum(pulses), sum(ms) FROM (${sql})`, ...place) as [
    number | null,
    number | null,
  ][];
  return { pulses: row?.[0] ?? 0, ms: row?.[1] ?? 0 };
}

function idOf(reader: ReadStore, name: string): number | null {
  const id = reader.value('SELECT id FROM name WHERE text = ?', name);
  return typeof id === 'number' ? id : null;
}

function textOf(reader: ReadStore, id: number): string {
  return String(reader.value('SELECT text FROM name WHERE id = ?', id));
}
