/** The table of a receiver, as an integrator would make it: one row for each key, replaced only by a higher revision. */
import Database from 'better-sqlite3';

export interface ReceivedRow {
  readonly stream: string;
  readonly key: string;
  readonly revision: number;
  readonly body: string;
}

/** `at`: when this revision was stored, ms. */
export type StoredRow = ReceivedRow & { readonly at: number };

export class ReceiverTable {
  readonly #db: Database.Database;

  constructor(file: string) {
    this.#db = new Database(file);
    this.#db.pragma('journal_mode = WAL');
    this.#db.pragma('synchronous = FULL');
    this.#db.exec(
      `CREATE TABLE IF NOT EXISTS record (stream TEXT, key TEXT, revision INTEGER, body TEXT, at INTEGER,
       PRIMARY KEY (stream, key)) STRICT`,
    );
    this.#db.exec('CREATE TABLE IF NOT EXISTS arrival (count INTEGER) STRICT');
  }

  /** Durable when it returns. */
  take(rows: readonly ReceivedRow[]): void {
    const put = this.#db.prepare(
      `INSERT INTO record VALUES (?, ?, ?, ?, ?)
       ON CONFLICT DO UPDATE SET revision = excluded.revision, body = excluded.body, at = excluded.at
       WHERE excluded.revision > revision`,
    );
    const now = Date.now();
    this.#db.transaction(() => {
      for (const { stream, key, revision, body } of rows) put.run(stream, key, revision, body, now);
      this.#db.prepare('INSERT INTO arrival VALUES (?)').run(rows.length);
    })();
  }

  rows(): StoredRow[] {
    return this.#db.prepare('SELECT stream, key, revision, body, at FROM record').all() as StoredRow[];
  }

  /** Records that came, doubles included. */
  countArrivals(): number {
    return this.#db.prepare('SELECT coalesce(sum(count), 0) FROM arrival').pluck().get() as number;
  }

  close(): void {
    this.#db.close();
  }
}

/** A forwarded record in its frame, as a row. */
export function rowOf(frame: { stream: string; key: string; revision: number }): ReceivedRow {
  const { stream, key, revision } = frame;
  return { stream, key, revision, body: JSON.stringify(frame) };
}
