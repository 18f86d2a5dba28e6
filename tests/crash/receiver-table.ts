/** The table of a receiver, as an integrator would make it: one row for each key, replaced only by a higher revision. */
import Database from 'better-sqlite3';

export interface ReceivedRow {
  readonly stream: string;
  readonly key: string;
  readonly revision: number;
  readonly body: string;
}

export class ReceiverTable {
  readonly #db: Database.Database;

  constructor(file: string) {
    this.#db = new Database(file);
    this.#db.pragma('journal_mode = WAL');
    this.#db.pragma('synchronous = FULL');
    this.#db.exec(
      'CREATE TABLE IF NOT EXISTS record (stream TEXT, key TEXT, revision INTEGER, body TEXT, PRIMARY KEY (stream, key)) STRICT',
    );
    this.#db.exec('CREATE TABLE IF NOT EXISTS arrival (count INTEGER) STRICT');
  }

  /** Durable when it returns. */
  take(rows: readonly ReceivedRow[]): void {
    const put = this.#db.prepare(
      `INSERT INTO record VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET revision = excluded.revision, body = excluded.body
       WHERE excluded.revision > revision`,
    );
    this.#db.transaction(() => {
      for (const { stream, key, revision, body } of rows) put.run(stream, key, revision, body);
      this.#db.prepare('INSERT INTO arrival VALUES (?)').run(rows.length);
    })();
  }

  rows(): ReceivedRow[] {
    return this.#db.prepare('SELECT stream, key, revision, body FROM record').all() as ReceivedRow[];
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
