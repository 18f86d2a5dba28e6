/** Reads what shows how far the messages of a sensor come: its last reading, its class, and what was refused under which topic. */
import { CLASS_NAMES, LEDGER_CLASSES, REASON_NAMES, Class } from '../core/words.js';
import type { ReadStore } from './reader.js';

/** What became of one sensor's readings. null: none yet. */
export interface ArrivalRow {
  readonly sensor: string;
  readonly device: string | null;
  readonly lastReadingAt: number | null;
  /** end of the newest increment that has its class */
  readonly classifiedTo: number | null;
  /** ms by the name of the class, of the 1 min rollups since the time asked for */
  readonly ms: Readonly<Record<string, number>>;
  /** of the newest unattributed increment since then; '': there is none */
  readonly reason: string;
  readonly reasonAt: number | null;
  /** whether the core holds the device's clock for wrong; null: it holds nothing of this sensor */
  readonly isClockOff: boolean | null;
}

/** What was refused under one topic for one reason from one client, newest of it last. */
export interface RefusedRow {
  readonly topic: string;
  readonly reason: string;
  readonly client: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
}

/** Newest rows of the quarantine that are looked at, and most groups of them that are told. */
const ROWS_MOST = 20_000;
const GROUPS_MOST = 1_000;

export interface ArrivalQuery {
  readonly sensors: readonly string[];
  /** of the sums, ms */
  readonly since: number;
  /** of the newest reason, ms */
  readonly reasonsSince: number;
}

/** In the order of the names; those of which nothing is stored are left out. */
export function readArrivals(reader: ReadStore, query: ArrivalQuery): ArrivalRow[] {
  const { sensors } = query;
  return sensors.flatMap((sensor) => {
    const id = reader.value('SELECT id FROM name WHERE text = ?', sensor);
    return id === null ? [] : [readArrival(reader, sensor, id as number, query)];
  });
}

function readArrival(
  reader: ReadStore,
  sensor: string,
  id: number,
  { since, reasonsSince }: ArrivalQuery,
): ArrivalRow {
  const [last] = reader.all(
    'SELECT i.to_ms, c.device FROM increment i JOIN chain c ON c.id = i.chain WHERE i.sensor = ? ORDER BY i.to_ms DESC LIMIT 1',
    id,
  ) as [number, string][];
  const classifiedTo = reader.value(
    'SELECT to_ms FROM increment WHERE sensor = ? AND class BETWEEN 1 AND 7 ORDER BY to_ms DESC LIMIT 1',
    id,
  ) as number | null;
  const [sums] = reader.all(
    `SELECT ${LEDGER_CLASSES.map((c) => `coalesce(sum(m${c}), 0)`).join(', ')} FROM rollup_1m WHERE sensor = ? AND start >= ?`,
    ...[id, since],
  ) as number[][];
  const [reason] = reader.all(
    `SELECT to_ms, reason FROM increment WHERE sensor = ? AND to_ms >= ? AND class = ${Class.unattributed}
     ORDER BY to_ms DESC LIMIT 1`,
    ...[id, reasonsSince],
  ) as [number, number][];
  const isClockOff = reader.value(
    `SELECT json ->> '$.clock.off' FROM checkpoint WHERE key = ?`,
    `hours:${sensor}`,
  ) as number | null;
  return {
    sensor,
    device: last?.[1] ?? null,
    lastReadingAt: last?.[0] ?? null,
    classifiedTo,
    ms: Object.fromEntries(LEDGER_CLASSES.map((c, i) => [CLASS_NAMES[c], sums?.[i] ?? 0])),
    reason: REASON_NAMES[reason?.[1] ?? 0] ?? '',
    reasonAt: reason?.[0] ?? null,
    isClockOff: isClockOff === null ? null : isClockOff === 1,
  };
}

/** Newest first. Clients and topics are as they came: whoever shows them must bear anything. */
export function readRefused(reader: ReadStore): RefusedRow[] {
  return reader
    .all(
      `SELECT topic, reason, client, count(*), min(at), max(at) AS last
       FROM (SELECT topic, reason, client, at FROM quarantine ORDER BY id DESC LIMIT ${ROWS_MOST})
       GROUP BY topic, reason, client ORDER BY last DESC LIMIT ${GROUPS_MOST}`,
    )
    .map((cells) => ({
      topic: cells[0] as string,
      reason: cells[1] as string,
      client: cells[2] as string,
      count: cells[3] as number,
      firstAt: cells[4] as number,
      lastAt: cells[5] as number,
    }));
}
