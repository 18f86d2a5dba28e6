/**
 * Puts entries into the outbox, gives out their positions, and counts what was produced: all of it in the transaction that
 * is open. An entry is a reference to a stored row, not a copy of it.
 */
import { JOURNAL, OUTBOX_STREAMS } from './outbox-streams.js';
import type { Prepared, Statements } from './statements.js';

export class OutboxEntries {
  readonly #statements: Statements;
  readonly #insert: Prepared;
  readonly #count: Prepared;
  readonly #keepHead: Prepared;
  readonly #heads = new Map<number, number>();
  /** produced in this transaction, by stream and subject */
  readonly #produced = new Map<number, Map<number, number>>();
  readonly #moved = new Set<number>();

  constructor(statements: Statements) {
    this.#statements = statements;
    this.#insert = statements.prepare('INSERT INTO outbox VALUES (?, ?, ?, ?, ?, ?)');
    this.#count = statements.prepare(
      `INSERT INTO outbox_produced VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET count = count + excluded.count`,
    );
    this.#keepHead = statements.prepare('INSERT OR REPLACE INTO outbox_head VALUES (?, ?)');
    this.reload();
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#heads.clear();
    this.#produced.clear();
    this.#moved.clear();
    for (const [stream, head] of this.#statements.all('SELECT stream, position FROM outbox_head') as [
      number,
      number,
    ][])
      this.#heads.set(stream, head);
  }

  head(stream: number): number {
    return this.#heads.get(stream) ?? 0;
  }

  /** Positions go on behind `position`, which must not lie before the head. */
  moveHead(stream: number, position: number): void {
    this.#heads.set(stream, position);
    this.#moved.add(stream);
  }

  /** `at`: when it became due, ms. `position` absent: the next one. */
  add(
    stream: number,
    subject: number,
    start: number,
    revision: number,
    at: number,
    position: number = this.head(stream) + 1,
  ): void {
    this.#insert.run(stream, position, subject, start, revision, at);
    this.moveHead(stream, position);
    let counts = this.#produced.get(stream);
    if (counts === undefined) {
      counts = new Map<number, number>();
      this.#produced.set(stream, counts);
    }
    counts.set(subject, (counts.get(subject) ?? 0) + 1);
  }

  /** Writes heads and counts of what was added since. */
  finish(): void {
    for (const stream of this.#moved) this.#keepHead.run(stream, this.head(stream));
    this.#moved.clear();
    for (const [stream, counts] of this.#produced)
      for (const [subject, count] of counts) this.#count.run(stream, subject, count);
    this.#produced.clear();
  }

  /**
   * Begins anew: nothing is in it, nothing was produced. Positions begin with the time, so that they lie beyond those
   * of any outbox before, whichever store it was in: receivers take only what is higher than what they have.
   */
  begin(now: number): void {
    for (const table of ['outbox', 'outbox_produced', 'manifest_due'])
      this.#statements.prepare(`DELETE FROM ${table}`).run();
    const last = this.#statements.value('SELECT max(id) FROM journal') as number | null;
    for (const { code } of OUTBOX_STREAMS)
      this.moveHead(code, code === JOURNAL ? (last ?? 0) : Math.max(now, this.head(code)));
    this.finish();
  }
}
