/** Reads what steps of commissioning are judged by: who counted how much around a span, and what drives told; and the runs kept. */
import { Class } from '../core/words.js';
import { fromCursor, LAST, toCursor, type Page } from './page.js';
import type { ReadStore } from './reader.js';

/** Pulses and ms of the increments that meet the span, and of those before it. See `HeardCounts` of the advice. */
export interface HeardRow {
  readonly sensor: string;
  readonly motor: string;
  readonly pulses: number;
  readonly ms: number;
  readonly beforePulses: number;
  readonly beforeMs: number;
  readonly coveredTo: number | null;
}

export interface HeardQuery {
  readonly sensors: readonly string[];
  /** of these sensors the time before counts only at standstill */
  readonly motor: string;
  readonly from: number;
  readonly to: number;
  /** the yardstick ends here, and is so long */
  readonly before: number;
  readonly beforeMs: number;
  /** increments that meet one of these are no part of the yardstick */
  readonly skip: readonly { readonly from: number; readonly to: number }[];
  /** only increments that lie within the span */
  readonly isWhole: boolean;
}

/** In the order of the sensors asked for; those of which nothing is stored are silent. */
export function readHeard(reader: ReadStore, query: HeardQuery): HeardRow[] {
  return query.sensors.map((sensor) => {
    const motor = sensor.slice(0, sensor.indexOf('/'));
    const id = reader.value('SELECT id FROM name WHERE text = ?', sensor) as number | null;
    if (id === null)
      return { sensor, motor, pulses: 0, ms: 0, beforePulses: 0, beforeMs: 0, coveredTo: null };
    const [pulses, ms] = sumMeeting(reader, id, query);
    const [beforePulses, beforeMs] = sumBefore(reader, id, motor === query.motor, query);
    const coveredTo = reader.value('SELECT max(to_ms) FROM increment WHERE sensor = ?', id) as number | null;
    return { sensor, motor, pulses, ms, beforePulses, beforeMs, coveredTo };
  });
}

/** No increment that counts is longer than this many of its intervals; the bound keeps the search short. */
const LONGEST_MS = 3_600_000;

function sumMeeting(reader: ReadStore, id: number, { from, to, isWhole }: HeardQuery): [number, number] {
  const meets = isWhole ? 'to_ms - duration >= ? AND to_ms <= ?' : 'to_ms > ? AND to_ms - duration < ?';
  const [row] = reader.all(
    `SELECT coalesce(sum(pulses), 0), coalesce(sum(duration), 0) FROM increment
     WHERE sensor = ? AND to_ms > ? AND to_ms <= ? AND class <> ${Class.none} AND ${meets}`,
    ...[id, from, to + (isWhole ? 0 : LONGEST_MS), from, to],
  ) as [number, number][];
  return row!;
}

function sumBefore(reader: ReadStore, id: number, isOwn: boolean, query: HeardQuery): [number, number] {
  const left = isOwn
    ? `${Class.none}, ${Class.check}, ${Class.transient}, ${Class.running}`
    : `${Class.none}, ${Class.check}, ${Class.transient}`;
  const outside = query.skip.map(() => 'AND (to_ms <= ? OR to_ms - duration >= ?)').join(' ');
  const [row] = reader.all(
    `SELECT coalesce(sum(pulses), 0), coalesce(sum(duration), 0) FROM increment
     WHERE sensor = ? AND to_ms > ? AND to_ms <= ? AND class NOT IN (${left}) ${outside}`,
    ...[id, query.before - query.beforeMs, query.before, ...query.skip.flatMap(({ from, to }) => [from, to])],
  ) as [number, number][];
  return row!;
}

export interface DriveChangeRow {
  readonly motor: string;
  /** since when, where the message says so */
  readonly at: number;
  readonly state: string;
  readonly modulating: boolean;
}

/** Messages of one motor that are read. */
const MESSAGES_MOST = 200;

/** The last message of each motor before `from`, and those from then up to `to`, by motor and time. */
export function readDriveChanges(
  reader: ReadStore,
  { motors, from, to }: { readonly motors: readonly string[]; readonly from: number; readonly to: number },
): DriveChangeRow[] {
  return motors.flatMap((motor) => {
    const id = reader.value('SELECT id FROM name WHERE text = ?', motor) as number | null;
    if (id === null) return [];
    const first = reader.value('SELECT max(at) FROM drive_message WHERE motor = ? AND at < ?', id, from);
    return reader
      .all(
        `SELECT coalesce(since, at), state, modulating FROM drive_message
         WHERE motor = ? AND at >= ? AND at <= ? ORDER BY at LIMIT ${MESSAGES_MOST}`,
        ...[id, (first as number | null) ?? from, to],
      )
      .map((cells) => ({
        motor,
        at: cells[0] as number,
        state: cells[1] as string,
        modulating: cells[2] === 1,
      }));
  });
}

/** Keys of the records that hold runs. */
export const RUN_KEY = 'commissioning/';
const RUNS = `FROM checkpoint WHERE key >= '${RUN_KEY}' AND key < 'commissioning0'`;

export interface KeptRunQuery {
  /** null: of every motor */
  readonly motor: string | null;
  readonly limit: number;
  readonly cursor: string | null;
}

/** Runs as they were kept, JSON, newest first. */
export function readKeptRuns(reader: ReadStore, { motor, limit, cursor }: KeptRunQuery): Page<string> {
  const [below] = fromCursor<[number]>(cursor, [LAST]);
  const rows = reader.all(
    `SELECT json, json_extract(json, '$.id') AS id ${RUNS}
     AND id < ? AND (? IS NULL OR json_extract(json, '$.motor') = ?) ORDER BY id DESC LIMIT ?`,
    ...[below, motor, motor, limit],
  ) as [string, number][];
  const last = rows.at(-1);
  return {
    items: rows.map(([json]) => json),
    next: last === undefined || rows.length < limit ? null : toCursor(last[1]),
  };
}

/** null: there is none of that number, or it made room for newer ones. */
export function readKeptRun(reader: ReadStore, id: number): string | null {
  return reader.value(`SELECT json ${RUNS} AND json_extract(json, '$.id') = ?`, id) as string | null;
}
