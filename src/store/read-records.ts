/** Reads what people read: transients, alarms, diagnostics, quarantine. */
import { completeAlarm } from '../core/alarm.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import type { Transient } from '../core/rows.js';
import {
  beginById,
  FIRST,
  fromCursor,
  LAST,
  nextById,
  toPage,
  type OrderedQuery,
  type Page,
  type PageQuery,
} from './page.js';
import type { ReadConnection } from './read-connection.js';
import { toTransient, TRANSIENT_COLUMNS } from './row-shapes.js';

export interface DiagnosticRow {
  readonly subject: string;
  readonly kind: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
  /** of the last one */
  readonly detail: string;
}

export interface QuarantineEntry {
  readonly at: number;
  readonly client: string;
  readonly topic: string;
  readonly reason: string;
  readonly size: number;
  readonly firstBytes: Uint8Array;
}

/** Those that overlap [from, to), ordered by (motor, from). `motor` null: all. */
export function readTransients(
  reader: ReadConnection,
  query: PageQuery & { motor: string | null },
): Page<Transient> {
  const [after, start] = fromCursor<[string, number]>(query.cursor, ['', FIRST]);
  const items: Transient[] = [];
  for (const { id, key } of reader.motorIds(query.motor)) {
    if (key < after) continue;
    const rows = reader.all(
      `SELECT ${TRANSIENT_COLUMNS} FROM transient WHERE motor = ? AND from_ms > ? AND from_ms < ? AND to_ms > ?
       ORDER BY from_ms LIMIT ?`,
      id,
      key === after ? start : FIRST,
      query.to ?? LAST,
      query.from ?? FIRST,
      query.limit - items.length,
    );
    for (const cells of rows) items.push(toTransient(key, cells));
    if (items.length >= query.limit) break;
  }
  return toPage(items, query.limit, (last) => [last.motor, last.from]);
}

export function readAlarms(reader: ReadConnection): AlarmRecord[] {
  return reader
    .all('SELECT json FROM alarm ORDER BY id')
    .map(([json]) => completeAlarm(JSON.parse(json as string) as AlarmRecord));
}

export function readDiagnostics(reader: ReadConnection): DiagnosticRow[] {
  return reader
    .all('SELECT subject, kind, count, first_at, last_at, detail FROM diagnostic ORDER BY subject, kind')
    .map((cells) => ({
      subject: cells[0] as string,
      kind: cells[1] as string,
      count: cells[2] as number,
      firstAt: cells[3] as number,
      lastAt: cells[4] as number,
      detail: cells[5] as string,
    }));
}

/** In the order in which it was written, or the newest first. */
export function readQuarantine(reader: ReadConnection, query: OrderedQuery): Page<QuarantineEntry> {
  const { after, isBehind, inOrder } = beginById(query);
  const rows = reader.all(
    `SELECT id, at, client, topic, reason, size, head FROM quarantine
     WHERE ${isBehind} AND at >= ? AND at < ? ${inOrder} LIMIT ?`,
    after,
    query.from ?? FIRST,
    query.to ?? LAST,
    query.limit,
  ) as unknown as [number, number, string, string, string, number, Uint8Array][];
  const items = rows.map(([, at, client, topic, reason, size, firstBytes]) => ({
    at,
    client,
    topic,
    reason,
    size,
    firstBytes,
  }));
  return { items, next: nextById(rows, query.limit) };
}
