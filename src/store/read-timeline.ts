/** Reads what is drawn under a motor's rate: its drive's messages, its starts and stops, and what its alarms did. */
import type { DriveRow, PresenceRow, Transient } from '../core/rows.js';
import type { ReadStore } from './reader.js';
import { DRIVE_COLUMNS, toDrive, toTransient, TRANSIENT_COLUMNS } from './row-shapes.js';
import type { Cells } from './statements.js';

interface Span {
  readonly from: number;
  readonly to: number;
}

/** A change of state is told with its `since` a little after it happened. */
const TOLD_LATER_MS = 60_000;

/** Time of the oldest message that is kept, ms; null: there is none. */
export function readOldestDrive(reader: ReadStore, motor: string): number | null {
  return reader.value('SELECT min(at) FROM drive_message WHERE motor = ?', idOf(reader, motor)) as
    number | null;
}

/** Whether more than `most` messages lie inside. */
export function hasMoreDrives(reader: ReadStore, motor: string, { from, to }: Span, most: number): boolean {
  const sql = `SELECT count(*) FROM (SELECT 1 FROM drive_message WHERE motor = ? AND at >= ? AND at < ? LIMIT ?)`;
  return (reader.value(sql, idOf(reader, motor), from, to, most + 1) as number) > most;
}

/** Messages and presences from the last message before the span until a little after it. */
export function readDrives(
  reader: ReadStore,
  motor: string,
  { from, to }: Span,
): { drives: DriveRow[]; presences: PresenceRow[] } {
  const id = idOf(reader, motor);
  const last = reader.value('SELECT max(at) FROM drive_message WHERE motor = ? AND at < ?', id, from);
  const place = [id, (last as number | null) ?? from, to + TOLD_LATER_MS];
  const inside = 'WHERE motor = ? AND at >= ? AND at < ? ORDER BY at';
  return {
    drives: reader
      .all(`SELECT ${DRIVE_COLUMNS} FROM drive_message ${inside}`, ...place)
      .map((cells) => toDrive(motor, cells)),
    presences: reader
      .all(`SELECT at, online FROM drive_presence ${inside}`, ...place)
      .map((cells) => ({ motor, at: cells[0] as number, online: cells[1] === 1 })),
  };
}

/** The message in force at each of the times; left out where there was none yet. */
export function sampleDrives(reader: ReadStore, motor: string, times: readonly number[]): DriveRow[] {
  const id = idOf(reader, motor);
  const sql = `SELECT ${DRIVE_COLUMNS} FROM drive_message WHERE motor = ? AND at <= ? ORDER BY at DESC LIMIT 1`;
  return times.flatMap((time) => {
    const [cells] = reader.all(sql, id, time);
    return cells === undefined ? [] : [toDrive(motor, cells)];
  });
}

/** Those that overlap the span, in order of time, `most` at most: then the oldest are left out. */
export function readSpanTransients(
  reader: ReadStore,
  motor: string,
  { from, to }: Span,
  most: number,
): Transient[] {
  return reader
    .all(
      `SELECT ${TRANSIENT_COLUMNS} FROM transient WHERE motor = ? AND from_ms < ? AND to_ms > ? ORDER BY from_ms DESC LIMIT ?`,
      ...[idOf(reader, motor), to, from, most],
    )
    .map((cells) => toTransient(motor, cells))
    .reverse();
}

/** An entry of the journal about an alarm, without its evidence. */
export interface AlarmEntryRow {
  readonly id: number;
  readonly at: number;
  readonly alarm: string;
  readonly what: string;
  readonly text: string;
  readonly hasEvidence: boolean;
}

/** What happened to the alarms of a motor behind the place (at, id), in that order, `limit` at most. */
export function readAlarmEntries(
  reader: ReadStore,
  motor: string,
  query: Span & { readonly after: readonly [at: number, id: number]; readonly limit: number },
): AlarmEntryRow[] {
  const [at, id] = query.after;
  // names hold no dots, so `<motor>.` begins the ids of this motor's alarms and of no other's; '/' follows '.'
  return reader
    .all(
      `SELECT id, at, subject, what, text, evidence IS NOT NULL FROM journal
       WHERE at >= ? AND at < ? AND (at, id) > (?, ?) AND subject > ? AND subject < ? AND what <> ''
       ORDER BY at, id LIMIT ?`,
      ...[Math.max(query.from, at), query.to, at, id, `${motor}.`, `${motor}/`, query.limit],
    )
    .map(toAlarmEntry);
}

function toAlarmEntry(cells: Cells): AlarmEntryRow {
  return {
    id: cells[0] as number,
    at: cells[1] as number,
    alarm: cells[2] as string,
    what: cells[3] as string,
    text: cells[4] as string,
    hasEvidence: cells[5] === 1,
  };
}

function idOf(reader: ReadStore, name: string): number {
  return (reader.value('SELECT id FROM name WHERE text = ?', name) as number | null) ?? -1;
}
