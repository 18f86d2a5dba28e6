/**
 * Records that a receiver refuses for good: kept with the reason and a copy, until somebody has them sent again. Beyond its
 * bounds the oldest copies are given up and entered in the loss ledger: a lane that waited instead would keep good records
 * from the receiver because of bad ones, and what is given up is still in the store, where a backfill finds it.
 */
import type Database from 'better-sqlite3';
import type { Refused } from './delivery.js';
import type { SinkRecord } from './sink.js';
import type { Outcome, SinkBook } from './sink-book.js';

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

/** Of one sink. `bytes`: of the copies. */
export interface QuarantineLimits {
  readonly records: number;
  readonly bytes: number;
}

/** Our choice: enough for people to see what is wrong, and some 16 sinks of it still fit a small disk. */
export const QUARANTINE_LIMITS: QuarantineLimits = { records: 10_000, bytes: 33_554_432 };

const BYTES = 'length(CAST(record AS BLOB))';

export class Quarantine {
  #size = 0;
  #bytes = 0;
  /** of them, those that are in no ledger */
  #loose = 0;
  #givenUp = 0;

  constructor(
    private readonly db: Database.Database,
    private readonly book: SinkBook,
    private readonly limits: QuarantineLimits = QUARANTINE_LIMITS,
  ) {
    this.#recount();
    book.onRollback = () => this.#recount();
  }

  #recount(): void {
    const sql = `SELECT count(*) AS size, coalesce(sum(${BYTES}), 0) AS bytes, count(*) - count(subject) AS loose
      FROM quarantine WHERE sink = ?`;
    const row = this.db.prepare(sql).get(this.book.name) as { size: number; bytes: number; loose: number };
    this.#size = row.size;
    this.#bytes = row.bytes;
    this.#loose = row.loose;
  }

  get size(): number {
    return this.#size;
  }

  /** How many copies were given up since it was asked last. */
  takeGivenUp(): number {
    const count = this.#givenUp;
    this.#givenUp = 0;
    return count;
  }

  /** Inside a transaction. `subject` null: it is in no ledger. */
  put(code: number, subject: number | null, { record, reason }: Refused, at: number): void {
    const json = JSON.stringify(record);
    this.db
      .prepare(
        `INSERT INTO quarantine (sink, code, subject, key, revision, at, reason, record) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(
        ...[this.book.name, code, subject, record.key, record.revision, at],
        ...[reason.slice(0, REASON_LENGTH_MAX), json],
      );
    this.#size += 1;
    this.#bytes += Buffer.byteLength(json);
    if (subject === null) this.#loose += 1;
    while (this.#size > this.limits.records || this.#bytes > this.limits.bytes) this.#giveUpOldest(at);
  }

  /** What a backfill brought goes first: it is in no ledger, and the backfill has counted it as refused. */
  #giveUpOldest(at: number): void {
    // in the order of the table: an index would have all of them sorted for each
    const which = this.#loose > 0 ? 'AND subject IS NULL' : '';
    const row = this.db
      .prepare(
        `SELECT id, code, subject, record FROM quarantine NOT INDEXED WHERE sink = ? ${which} ORDER BY id LIMIT 1`,
      )
      .get(this.book.name) as Pick<Cells, 'id' | 'code' | 'subject' | 'record'>;
    const { id, code, subject } = row;
    this.remove(id, code, subject, 'expired');
    this.#givenUp += 1;
    if (subject === null) return;
    const { records, bytes } = this.limits;
    const start = (JSON.parse(row.record) as SinkRecord).at;
    const reason = `more than ${records} records or ${bytes} bytes were in quarantine`;
    this.book.noteLoss({ code, subject, count: 1, firstStart: start, lastStart: start, reason, at });
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
  remove(id: number, code: number, subject: number | null, outcome: Exclude<Outcome, 'quarantined'>): void {
    const bytes = this.db.prepare(`DELETE FROM quarantine WHERE id = ? RETURNING ${BYTES}`).pluck().get(id);
    // it was given up while it was on its way
    if (bytes === undefined) return;
    this.#size -= 1;
    this.#bytes -= bytes as number;
    if (subject === null) this.#loose -= 1;
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
