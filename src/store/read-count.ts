/** Reads what a timed count rests on: a few increments, the drive's messages around them, and the hours before. */
import type { CountQuery, CountRows } from '../core/timed-count.js';
import type { Class } from '../core/words.js';
import type { ReadConnection } from './read-connection.js';
import {
  DRIVE_COLUMNS,
  INCREMENT_COLUMNS,
  SPREAD_COLUMNS,
  toDrive,
  toIncrement,
  toSpread,
} from './row-shapes.js';

/** Hours before the count, of which each has a row for every condition bin that ran. */
const SPREAD_ROWS = 384;
/** A change of state is told with its `since` a little after it happened. */
const TOLD_LATER_MS = 60_000;

export function readCount(reader: ReadConnection, { sensor, from, to }: CountQuery): CountRows {
  const id = idOf(reader, sensor);
  const motor = sensor.slice(0, sensor.indexOf('/'));
  const names = {
    text: (bin: number) => reader.value('SELECT text FROM name WHERE id = ?', bin) as string,
  };
  const increments = reader
    .all(
      `SELECT ${INCREMENT_COLUMNS} FROM increment WHERE sensor = ? AND to_ms > ? AND to_ms <= ? ORDER BY to_ms, chain, seq`,
      id,
      from,
      to,
    )
    .map((cells) => toIncrement(sensor, cells, names));
  const begin = increments.reduce((least, row) => Math.min(least, row.from), from);
  const atEnd =
    'SELECT class FROM increment WHERE sensor = ? AND to_ms >= ? ORDER BY to_ms, chain, seq LIMIT 1';
  const spreads = reader.all(
    `SELECT ${SPREAD_COLUMNS} FROM spread JOIN name ON name.id = bin WHERE sensor = ? AND hour < ?
     ORDER BY hour DESC, text DESC LIMIT ${SPREAD_ROWS}`,
    id,
    to,
  );
  return {
    increments,
    classAtEnd: reader.value(atEnd, id, to) as Class | null,
    ...readDrive(reader, motor, begin, to + TOLD_LATER_MS),
    spreads: spreads.map((cells) => toSpread(sensor, cells)),
  };
}

function readDrive(
  reader: ReadConnection,
  motor: string,
  from: number,
  to: number,
): Pick<CountRows, 'drives' | 'presences'> {
  const id = idOf(reader, motor);
  const last = reader.value('SELECT max(at) FROM drive_message WHERE motor = ? AND at < ?', id, from);
  const first = (last as number | null) ?? from;
  const drives = reader
    .all(
      `SELECT ${DRIVE_COLUMNS} FROM drive_message WHERE motor = ? AND at >= ? AND at < ? ORDER BY at`,
      ...[id, first, to],
    )
    .map((cells) => toDrive(motor, cells));
  const presences = reader
    .all(
      'SELECT at, online FROM drive_presence WHERE motor = ? AND at >= ? AND at < ? ORDER BY at',
      ...[id, first, to],
    )
    .map((cells) => ({ motor, at: cells[0] as number, online: cells[1] === 1 }));
  return { drives, presences };
}

/** End of a sensor's newest increment that has its class; null: it has none. */
export function readNewestEnd(reader: ReadConnection, sensor: string): number | null {
  const sql =
    'SELECT to_ms FROM increment WHERE sensor = ? AND class BETWEEN 1 AND 7 ORDER BY to_ms DESC LIMIT 1';
  return reader.value(sql, idOf(reader, sensor)) as number | null;
}

function idOf(reader: ReadConnection, name: string): number {
  return (reader.value('SELECT id FROM name WHERE text = ?', name) as number | null) ?? -1;
}
