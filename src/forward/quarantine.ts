/** Records that a receiver refuses for good: kept with the reason and a copy, until somebody has them sent again. */
import type Database from 'better-sqlite3';
import type { Refused } from './delivery.js';
import type { SinkRecord } from './sink.js';
import type { SinkBook } from './sink-book.js';

export interface QuarantinedRow {
  readonly id: number;
  readonly code: number;
  /** null: it came by a backfill */
  readonly subject: number | null;
  readonly reason: string;
  readonly at: number;
  readonly record: SinkRecord;
}

interface Cells {
  readonly id: number;
  readonly code: number;
  readonly subject: number | null;
  readonly reason: string;
  readonly at: number;
  readonly record: string;
}

export class Quarantine {
  #size: number;

  constructor(
    private readonly db: Database.Database,
    private readonly book: SinkBook,
  ) {
    const row = db.prepare('SELECT count(*) AS size FROM quarantine WHERE sink = ?').get(book.name);
    this.#size = (row as { size: number }).size;
  }

  get size(): number {
    return this.#size;
  }

  /** Inside a transaction. `subject` null: it is in no ledger. */
  put(code: number, subject: number | null, { record, reason }: Refused, at: number): void {
    this.db
      .prepare(
        `INSERT INTO quarantine (sink, code, subject, key, revision, at, reason, record) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(
        ...[this.book.name, code, subject, record.key, record.revision, at],
        ...[reason.slice(0, REASON_LENGTH_MAX), JSON.stringify(record)],
      );
    this.#size += 1;
  }

  /** Inside a transaction. A newer copy of what is kept here was taken: nobody needs the old one. */
  supersede(code: number, { key, revision }: SinkRecord): void {
    if (this.#size === 0) return;
    const rows = this.db
      .prepare('SELECT id, subject FROM quarantine WHERE sink = ? AND code = ? AND key = ? AND revision < ?')
      .all(this.book.name, code, key, revision) as { id: number; subject: number | null }[];
    for (const { id, subject } of rows) this.remove(id, code, subject, 'superseded');
  }

  /** Inside a transaction. */
  remove(id: number, code: number, subject: number | null, outcome: 'delivered' | 'superseded'): void {
    this.db.prepare('DELETE FROM quarantine WHERE id = ?').run(id);
    this.#size -= 1;
    if (subject === null) return;
    this.book.count(code, subject, 'quarantined', -1);
    this.book.count(code, subject, outcome, 1);
  }

  /** Inside a transaction. */
  keepReason(id: number, reason: string): void {
    this.db
      .prepare('UPDATE quarantine SET reason = ? WHERE id = ?')
      .run(reason.slice(0, REASON_LENGTH_MAX), id);
  }

  /** The oldest behind number `after`. */
  list(after: number, limit: number): QuarantinedRow[] {
    const rows = this.db
      .prepare(
        'SELECT id, code, subject, reason, at, record FROM quarantine WHERE sink = ? AND id > ? ORDER BY id LIMIT ?',
      )
      .all(this.book.name, after, limit) as Cells[];
    return rows.map((row) => ({ ...row, record: JSON.parse(row.record) as SinkRecord }));
  }
}

const REASON_LENGTH_MAX = 1_000;
