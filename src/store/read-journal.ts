/** Reads the journal, in the order in which it was written. */
import type { Evidence, JournalEntry } from '../core/alarm-rows.js';
import { CHAINED_COLUMNS, type ChainedCells } from './journal-chain.js';
import { FIRST, fromCursor, LAST, nextById, type Page, type PageQuery } from './page.js';
import type { ReadStore } from './reader.js';
import type { Cells } from './statements.js';

/** Of a range the time of occurrence counts. Absent or null: whatever it is. */
export interface JournalQuery extends PageQuery {
  readonly subject?: string | null;
  readonly kind?: string | null;
  readonly what?: string | null;
}

export interface JournalRow extends JournalEntry {
  readonly id: number;
  /** lower-case hexadecimal, see journal-chain.ts; null: written before entries were chained */
  readonly digest: string | null;
}

export function readJournal(reader: ReadStore, query: JournalQuery): Page<JournalRow> {
  const [after] = fromCursor<[number]>(query.cursor, [0]);
  const only = (['subject', 'kind', 'what'] as const).filter((name) => (query[name] ?? null) !== null);
  const rows = reader.all(
    `SELECT id, at, detected_at, kind, subject, before, after, who, text, evidence, what, annunciated, configuration,
       lower(hex(digest))
     FROM journal
     WHERE id > ? AND at >= ? AND at < ? ${only.map((name) => `AND ${name} = ?`).join(' ')} ORDER BY id LIMIT ?`,
    after,
    query.from ?? FIRST,
    query.to ?? LAST,
    ...only.map((name) => query[name]),
    query.limit,
  );
  return { items: rows.map(toJournalRow), next: nextById(rows, query.limit) };
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
export function readChained(reader: ReadStore, after: number, to: number, limit: number): ChainedEntry[] {
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
