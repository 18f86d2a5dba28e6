/** Reads the journal, in the order in which it was written, or the newest first. */
import type { Evidence, JournalEntry } from '../core/alarm-rows.js';
import {
  CHAIN_KEY,
  CHAINED_COLUMNS,
  readChainRecord,
  RETENTION_SUBJECT,
  type ChainedCells,
} from './journal-chain.js';
import { beginById, FIRST, LAST, nextById, toCursor, type OrderedQuery, type Page } from './page.js';
import type { ReadConnection } from './read-connection.js';
import type { Cells } from './statements.js';

/** Of a range the time of occurrence counts. Absent or null: whatever it is. */
export interface JournalQuery extends OrderedQuery {
  readonly subject?: string | null;
  readonly kind?: string | null;
  readonly what?: string | null;
}

export interface JournalRow extends JournalEntry {
  readonly id: number;
  /** lower-case hexadecimal, see journal-chain.ts; null: written before entries were chained */
  readonly digest: string | null;
}

export function readJournal(reader: ReadConnection, query: JournalQuery): Page<JournalRow> {
  const { after, isBehind, inOrder } = beginById(query);
  const only = (['subject', 'kind', 'what'] as const).filter((name) => (query[name] ?? null) !== null);
  const rows = reader.all(
    `SELECT id, at, detected_at, kind, subject, before, after, who, text, evidence, what, annunciated, configuration,
       lower(hex(digest))
     FROM journal
     WHERE ${isBehind} AND at >= ? AND at < ? ${only.map((name) => `AND ${name} = ?`).join(' ')} ${inOrder} LIMIT ?`,
    after,
    query.from ?? FIRST,
    query.to ?? LAST,
    ...only.map((name) => query[name]),
    query.limit,
  );
  return { items: rows.map(toJournalRow), next: nextById(rows, query.limit) };
}

/** Whatever they are about, behind number `id`, at most `limit`, in order. */
export function readJournalSince(reader: ReadConnection, id: number, limit: number): readonly JournalRow[] {
  return readJournal(reader, { from: null, to: null, limit, cursor: toCursor(id) }).items;
}

/** Without number and digest. */
export function toEntry({ id: _id, digest: _digest, ...entry }: JournalRow): JournalEntry {
  return entry;
}

function toJournalRow(cells: Cells): JournalRow {
  return {
    id: cells[0] as number,
    at: cells[1] as number,
    detectedAt: cells[2] as number,
    kind: cells[3] as JournalEntry['kind'],
    subject: cells[4] as string,
    from: cells[5] as string,
    to: cells[6] as string,
    who: cells[7] as string,
    text: cells[8] as string,
    what: cells[10] as JournalEntry['what'],
    annunciated: cells[11] === 1,
    configuration: cells[12] as string,
    evidence: cells[9] === null ? null : (JSON.parse(cells[9] as string) as Evidence),
    digest: cells[13] === '' ? null : (cells[13] as string),
  };
}

/** An entry as it was digested. */
export interface ChainedEntry {
  readonly id: number;
  readonly cells: ChainedCells;
  /** '': it has none */
  readonly digest: string;
}

/** Entries behind number `after` up to number `to`, at most `limit`, in order. */
export function readChained(
  reader: ReadConnection,
  after: number,
  to: number,
  limit: number,
): ChainedEntry[] {
  return reader
    .all(
      `SELECT ${CHAINED_COLUMNS.join(', ')}, lower(hex(digest)) FROM journal WHERE id > ? AND id <= ? ORDER BY id LIMIT ?`,
      after,
      to,
      limit,
    )
    .map((row) => ({
      id: row[0] as number,
      cells: row.slice(0, -1),
      digest: row[row.length - 1] as string,
    }));
}

/** What an entry says of an alarm, without words and evidence. */
export interface JournalChangeRow {
  readonly id: number;
  readonly detectedAt: number;
  readonly subject: string;
  readonly what: JournalEntry['what'];
  readonly annunciated: boolean;
}

/** Entries with a change behind number `after`, at most `limit`, in order. */
export function readChanges(reader: ReadConnection, after: number, limit: number): JournalChangeRow[] {
  return reader
    .all(
      `SELECT id, detected_at, subject, what, annunciated FROM journal WHERE id > ? AND what <> '' ORDER BY id LIMIT ?`,
      after,
      limit,
    )
    .map((cells) => ({
      id: cells[0] as number,
      detectedAt: cells[1] as number,
      subject: cells[2] as string,
      what: cells[3] as JournalEntry['what'],
      annunciated: cells[4] === 1,
    }));
}

/**
 * From when on the journal tells what was announced, ms; null: nothing is known. That is since something was first counted,
 * or, where older entries were removed or come from a version that did not say, since the first that does.
 */
export function readKeptSince(reader: ReadConnection): number | null {
  const record = readChainRecord(reader.value('SELECT value FROM meta WHERE key = ?', CHAIN_KEY));
  const removedTo = record?.anchor?.id ?? 0;
  const last = reader.value('SELECT max(id) FROM journal') as number | null;
  // numbers begin with 1: what lies before the chain was written by a version that did not say
  const unchainedTo = record === null ? (last ?? 0) : (record.start ?? 1) - 1;
  const first = reader.value(
    'SELECT detected_at FROM journal WHERE id > ? AND subject <> ? ORDER BY id LIMIT 1',
    Math.max(unchainedTo, removedTo),
    RETENTION_SUBJECT,
  ) as number | null;
  if (unchainedTo > 0 || removedTo > 0) return first;
  const counted = reader.value(
    'SELECT min(start) FROM (SELECT (SELECT min(start) FROM rollup_1h WHERE sensor = name.id) AS start FROM name)',
  ) as number | null;
  if (first === null || counted === null) return first ?? counted;
  return Math.min(first, counted);
}
