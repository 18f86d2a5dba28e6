/** Reads what the store holds of a stretch of time, stream by stream and in pages, to be forwarded again. */
import { completeAlarm } from '../core/alarm.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import { readDayManifest } from './day-manifest.js';
import type { OutboxContent } from './outbox-content.js';
import type { OutboxStream, StoredPeriod } from './outbox-streams.js';
import { FIRST, fromCursor, toCursor } from './page.js';
import { addBins } from './read-bins.js';
import { readJournal, toEntry } from './read-journal.js';
import { readTransients } from './read-records.js';
import type { ReadStore } from './reader.js';
import { DAY_MS, ROLLUP_TABLES, toSums, type RollupRow } from './rollup-row.js';
import { SUM_COLUMNS } from './schema.js';

export interface StretchQuery {
  /** inclusive, ms */
  readonly from: number;
  /** exclusive, ms */
  readonly to: number;
  /** sensor or motor; null: all */
  readonly subject: string | null;
  readonly limit: number;
  /** where the page before ended; null: from the start */
  readonly cursor: string | null;
}

export interface StretchItem {
  readonly name: string;
  readonly start: number;
  /** of a rollup; of what has none of its own, null */
  readonly revision: number | null;
  readonly content: OutboxContent;
}

export interface StretchPage {
  readonly items: readonly StretchItem[];
  /** null: there is no more */
  readonly next: string | null;
}

export function readStretch(reader: ReadStore, stream: OutboxStream, query: StretchQuery): StretchPage {
  switch (stream.stream) {
    case 'rollups':
      return readRollupStretch(reader, stream.period!, query);
    case 'manifests':
      return readManifestStretch(reader, stream.period!, query);
    case 'transients':
      return readTransientStretch(reader, query);
    case 'journal':
      return readJournalStretch(reader, query);
    case 'alarms':
      return readAlarmStretch(reader, query);
  }
}

/** The motor of a sensor; a motor is its own. */
function motorOf(subject: string | null): string | null {
  return subject?.split('/')[0] ?? null;
}

function readRollupStretch(reader: ReadStore, period: StoredPeriod, query: StretchQuery): StretchPage {
  const [after, start] = fromCursor<[string, number]>(query.cursor, ['', FIRST]);
  const items: StretchItem[] = [];
  for (const { id, key } of reader.sensorIds(null)) {
    const left = query.limit - items.length;
    if (
      key < after ||
      left <= 0 ||
      (query.subject !== null && query.subject !== key && query.subject !== motorOf(key))
    )
      continue;
    const from = Math.max(query.from, key === after ? start + 1 : FIRST);
    const rows = readRows(reader, { id, key }, period, from, query.to, left);
    for (const row of rows)
      items.push({
        name: key,
        start: row.start,
        revision: row.revision,
        content: { stream: 'rollups', row },
      });
  }
  return toStretchPage(items, query.limit);
}

/** Empty rows among them: a receiver may hold what they were before. */
function readRows(
  reader: ReadStore,
  { id, key }: { id: number; key: string },
  period: StoredPeriod,
  from: number,
  to: number,
  limit: number,
): RollupRow[] {
  const rows: RollupRow[] = reader
    .all(
      `SELECT start, revision, ${SUM_COLUMNS.join(', ')} FROM ${ROLLUP_TABLES[period]}
       WHERE sensor = ? AND start >= ? AND start < ? ORDER BY start LIMIT ?`,
      ...[id, from, to, limit],
    )
    .map((cells) => ({
      ...{ sensor: key, period, start: cells[0] as number, revision: cells[1] as number },
      ...toSums(cells as number[], 2),
      bins: [],
    }));
  addBins(reader, id, period, rows);
  return rows;
}

function toStretchPage(items: readonly StretchItem[], limit: number): StretchPage {
  const last = items.at(-1);
  return { items, next: last === undefined || items.length < limit ? null : toCursor(last.name, last.start) };
}

/** Day by day, in each by sensor; a page ends with its day at the latest, so that a long stretch without rows ends one too. */
function readManifestStretch(reader: ReadStore, period: StoredPeriod, query: StretchQuery): StretchPage {
  const { from, to, subject, limit, cursor } = query;
  const [day, after] = fromCursor<[number, string]>(cursor, [from - (from % DAY_MS), '']);
  if (day >= to) return { items: [], next: null };
  const items: StretchItem[] = [];
  for (const { id, key } of reader.sensorIds(null)) {
    if (key <= after || (subject !== null && subject !== key && subject !== motorOf(key))) continue;
    if (items.length >= limit) return { items, next: toCursor(day, items.at(-1)!.name) };
    const row = readDayManifest(reader, { id, sensor: key }, period, day);
    if (row !== null)
      items.push({ name: key, start: day, revision: null, content: { stream: 'manifests', row } });
  }
  return { items, next: day + DAY_MS >= to ? null : toCursor(day + DAY_MS, '') };
}

function readTransientStretch(reader: ReadStore, query: StretchQuery): StretchPage {
  const { from, to, limit, cursor } = query;
  const page = readTransients(reader, { from, to, limit, cursor, motor: motorOf(query.subject) });
  const items = page.items.map((row) => ({
    ...{ name: row.motor, start: row.from, revision: null },
    content: { stream: 'transients' as const, row },
  }));
  return { items, next: page.next };
}

/** Of the journal the time of occurrence counts. */
function readJournalStretch(reader: ReadStore, query: StretchQuery): StretchPage {
  const { from, to, limit, cursor } = query;
  const page = readJournal(reader, { from, to, limit, cursor });
  const items = page.items
    .filter(({ subject }) => isOf(subject, query.subject))
    .map((row) => ({
      ...{ name: row.subject, start: row.id, revision: null },
      content: { stream: 'journal' as const, row: toEntry(row) },
    }));
  return { items, next: page.next };
}

/** As they stand now, whenever they changed: an alarm has one record only. */
function readAlarmStretch(reader: ReadStore, query: StretchQuery): StretchPage {
  const [after] = fromCursor<[string]>(query.cursor, ['']);
  const rows = reader.all(
    'SELECT id, json FROM alarm WHERE id > ? ORDER BY id LIMIT ?',
    after,
    query.limit,
  ) as [string, string][];
  const items = rows
    .filter(([id]) => isOf(id, query.subject))
    .map(([id, json]) => ({
      ...{ name: id, start: 0, revision: null },
      content: { stream: 'alarms' as const, row: completeAlarm(JSON.parse(json) as AlarmRecord) },
    }));
  const last = rows.at(-1);
  return { items, next: last === undefined || rows.length < query.limit ? null : toCursor(last[0]) };
}

/** Alarms and entries of a motor, or of one of its sensors, begin with its name. */
function isOf(name: string, subject: string | null): boolean {
  if (subject === null || name === subject) return true;
  const motor = motorOf(subject) ?? '';
  return name === motor || name.startsWith(`${motor}.`);
}
