/** The outbox as the forwarder sees it, over a reading connection of its own; every read is short. */
import { readOutbox, type OutboxEntry, type OutboxRange } from './outbox-content.js';
import { OUTBOX_EPOCH } from './outbox-epoch.js';
import type { OutboxStream } from './outbox-streams.js';
import type { ReadStore } from './reader.js';

/** Entries of one subject in a range. */
export interface OutboxCount {
  readonly subject: number;
  readonly count: number;
  /** of what they refer to, ms */
  readonly firstStart: number;
  readonly lastStart: number;
}

export class OutboxReader {
  readonly #names = new Map<number, string>();

  constructor(readonly reader: ReadStore) {}

  /** Everything that `work` reads is of one moment. */
  snapshot<T>(work: () => T): T {
    return this.reader.db.transaction(work)();
  }

  /** Since when the outbox is kept, ms; 0: it is not. A later one has nothing in common with it. */
  epoch(): number {
    return Number(this.reader.value('SELECT value FROM meta WHERE key = ?', OUTBOX_EPOCH) ?? 0);
  }

  /** The last position of each stream. */
  heads(): Map<number, number> {
    return new Map(this.reader.all('SELECT stream, position FROM outbox_head') as [number, number][]);
  }

  /** The first position of a stream that has an entry; null: it has none. */
  firstPosition(code: number): number | null {
    const sql = 'SELECT position FROM outbox WHERE stream = ? ORDER BY position LIMIT 1';
    return this.reader.value(sql, code) as number | null;
  }

  /** How many entries were ever made of each subject of a stream. */
  produced(code: number): Map<number, number> {
    return new Map(
      this.reader.all('SELECT subject, count FROM outbox_produced WHERE stream = ?', code) as [
        number,
        number,
      ][],
    );
  }

  read(stream: OutboxStream, range: OutboxRange): OutboxEntry[] {
    return readOutbox(this.reader, stream, range, (id) => this.nameOf(id));
  }

  /** When the first entry of a range was entered, ms; null: there is none. */
  firstAt(code: number, after: number, to: number): number | null {
    return this.reader.value(
      'SELECT at FROM outbox WHERE stream = ? AND position > ? AND position <= ? ORDER BY position LIMIT 1',
      code,
      after,
      to,
    ) as number | null;
  }

  /** The last position of a range that was entered at or before `until` (ms); null: none was. */
  lastBefore(code: number, after: number, to: number, until: number): number | null {
    return this.reader.value(
      `SELECT position FROM outbox WHERE stream = ? AND position > ? AND position <= ? AND at <= ?
       ORDER BY position DESC LIMIT 1`,
      code,
      after,
      to,
      until,
    ) as number | null;
  }

  /** The position of the `count`th entry of a range, or of its last one; null: it holds none. */
  nthPosition(code: number, after: number, to: number, count: number): number | null {
    const sql = `SELECT max(position) FROM (SELECT position FROM outbox WHERE stream = ? AND position > ?
      AND position <= ? ORDER BY position LIMIT ?)`;
    return this.reader.value(sql, code, after, to, count) as number | null;
  }

  countBySubject(code: number, after: number, to: number): OutboxCount[] {
    const rows = this.reader.all(
      `SELECT subject, count(*), min(start), max(start) FROM outbox
       WHERE stream = ? AND position > ? AND position <= ? GROUP BY subject`,
      code,
      after,
      to,
    ) as [number, number, number, number][];
    return rows.map(([subject, count, firstStart, lastStart]) => ({ subject, count, firstStart, lastStart }));
  }

  nameOf(id: number): string {
    let name = this.#names.get(id);
    if (name === undefined) {
      name = (this.reader.value('SELECT text FROM name WHERE id = ?', id) as string | null) ?? `#${id}`;
      this.#names.set(id, name);
    }
    return name;
  }

  close(): void {
    this.reader.close();
  }
}
