/**
 * The journal as one follows it: what came after an entry, by its id, with the records of the alarms that it is about; and
 * what a room of the main thread kept to go on from.
 */
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { ReadStore } from './reader.js';
import type { Cells } from './statements.js';

export type NewsEntry = Omit<JournalEntry, 'kind' | 'from' | 'configuration' | 'evidence'> & {
  readonly id: number;
  /** when the activation that it tells of was raised, ms; of any other entry its own time */
  readonly since: number;
};

/** `alarms`: as they stand now; subjects without a record are left out. */
export interface News {
  readonly entries: NewsEntry[];
  readonly alarms: Pick<AlarmRecord, 'id' | 'motor' | 'sensor' | 'kind' | 'priority'>[];
}

/** What is told later than it was raised was raised before it, mostly shortly: found backwards. */
const SINCE = `CASE WHEN annunciated = 0 OR what IN ('raised', 'returned') THEN at ELSE coalesce((SELECT earlier.at
  FROM journal earlier WHERE earlier.subject = journal.subject AND earlier.what = 'raised' AND earlier.id < journal.id
  ORDER BY earlier.id DESC LIMIT 1), at) END`;
const COLUMNS = `id, at, detected_at, subject, after, who, text, what, annunciated, ${SINCE}`;

/** In the order in which they were written, at most `limit`. */
export function readJournalAfter(reader: ReadStore, id: number, limit: number): News {
  return toNews(
    reader,
    reader.all(`SELECT ${COLUMNS} FROM journal WHERE id > ? ORDER BY id LIMIT ?`, id, limit),
  );
}

/** Entries that are gone are left out. */
export function readJournalEntries(reader: ReadStore, ids: readonly number[]): News {
  return toNews(
    reader,
    ids.flatMap((id) => reader.all(`SELECT ${COLUMNS} FROM journal WHERE id = ?`, id)),
  );
}

/** Id of the last entry that was written before `at` (ms); 0: none was. */
export function readJournalHead(reader: ReadStore, at: number): number {
  return Number(
    reader.value('SELECT id FROM journal WHERE detected_at < ? ORDER BY id DESC LIMIT 1', at) ?? 0,
  );
}

/** null: nothing was kept under that key. */
export function readKept(reader: ReadStore, key: string): string | null {
  return reader.value('SELECT json FROM checkpoint WHERE key = ?', key) as string | null;
}

function toNews(reader: ReadStore, rows: readonly Cells[]): News {
  const entries = rows.map((cells) => ({
    id: cells[0] as number,
    at: cells[1] as number,
    detectedAt: cells[2] as number,
    subject: cells[3] as string,
    to: cells[4] as string,
    who: cells[5] as string,
    text: cells[6] as string,
    what: cells[7] as JournalEntry['what'],
    annunciated: cells[8] === 1,
    since: cells[9] as number,
  }));
  const subjects = [...new Set(entries.map(({ subject }) => subject))];
  const alarms = subjects.flatMap((subject) => {
    const json = reader.value('SELECT json FROM alarm WHERE id = ?', subject) as string | null;
    if (json === null) return [];
    const { id, motor, sensor, kind, priority } = JSON.parse(json) as AlarmRecord;
    return [{ id, motor, sensor, kind, priority }];
  });
  return { entries, alarms };
}
