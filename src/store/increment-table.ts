/** The rows of readings and their increments, wherever they lie; see buckets.ts. */
import type { Increment } from '../core/rows.js';
import { Buckets, SETTLED, type BucketLimits } from './buckets.js';
import { INCREMENT_COLUMNS } from './row-shapes.js';
import type { Cells, Prepared, Statements } from './statements.js';

type Row = Pick<Increment, 'to' | 'chain' | 'seq'>;

/** Cells of a row, the number of its bucket first. */
const WIDTH = 12;
/** Rows of one INSERT: each call of a statement costs as much as two rows. */
const CHUNK_ROWS = 16;
const KEY = 'sensor = ? AND to_ms = ? AND chain = ? AND seq = ?';
const ROW = `(${Array<string>(WIDTH).fill('?').join(', ')})`;
const SETTLED_ROW = `(${Array<string>(WIDTH - 1)
  .fill('?')
  .join(', ')})`;
const CHANGES = 'duration = ?, count = ?, up_ms = ?, pulses = ?, class = ?, reason = ?, flags = ?';

export class IncrementTable {
  readonly buckets: Buckets;
  readonly #insertChunk: Prepared;
  readonly #insertFresh: Prepared;
  readonly #insertSettled: Prepared;
  readonly #updateFresh: Prepared;
  readonly #updateSettled: Prepared;
  readonly #removeFresh: Prepared;
  readonly #removeSettled: Prepared;
  readonly #readFresh: Prepared;
  readonly #readSettled: Prepared;
  readonly #chunk = new Array<number | null>(WIDTH * CHUNK_ROWS).fill(0);
  #filled = 0;

  constructor(statements: Statements, limits?: BucketLimits) {
    this.buckets = new Buckets(statements, limits);
    const insert = (rows: number): string =>
      `INSERT INTO fresh VALUES ${Array<string>(rows).fill(ROW).join(', ')}`;
    this.#insertChunk = statements.prepare(insert(CHUNK_ROWS));
    this.#insertFresh = statements.prepare(insert(1));
    this.#insertSettled = statements.prepare(`INSERT INTO settled VALUES ${SETTLED_ROW}`);
    this.#updateFresh = statements.prepare(`UPDATE fresh SET ${CHANGES} WHERE bucket = ? AND ${KEY}`);
    this.#updateSettled = statements.prepare(`UPDATE settled SET ${CHANGES} WHERE ${KEY}`);
    this.#removeFresh = statements.prepare(`DELETE FROM fresh WHERE bucket = ? AND ${KEY}`);
    this.#removeSettled = statements.prepare(`DELETE FROM settled WHERE ${KEY}`);
    const range = 'sensor = ? AND to_ms >= ? AND to_ms < ? ORDER BY to_ms, chain, seq';
    this.#readFresh = statements.prepare(
      `SELECT ${INCREMENT_COLUMNS} FROM fresh WHERE bucket = ? AND ${range}`,
    );
    this.#readSettled = statements.prepare(`SELECT ${INCREMENT_COLUMNS} FROM settled WHERE ${range}`);
  }

  /** `flush` must follow before anything is read. A key that is there already is a fault: SQLITE_CONSTRAINT. */
  insert(sensor: number, row: Increment): void {
    const place = this.buckets.placeNew(sensor, row.to);
    const chunk = this.#chunk;
    const at = this.#filled * WIDTH;
    chunk[at] = place;
    chunk[at + 1] = sensor;
    chunk[at + 2] = row.to;
    chunk[at + 3] = row.chain;
    chunk[at + 4] = row.seq ?? -1;
    chunk[at + 5] = row.to - row.from;
    chunk[at + 6] = row.count;
    chunk[at + 7] = row.upMs;
    chunk[at + 8] = row.pulses;
    chunk[at + 9] = row.class;
    chunk[at + 10] = row.reason;
    chunk[at + 11] = row.flags;
    if (place === SETTLED) {
      this.#insertSettled.run(chunk.slice(at + 1, at + WIDTH));
      return;
    }
    this.#filled += 1;
    if (this.#filled < CHUNK_ROWS) return;
    this.#filled = 0;
    this.#insertChunk.run(chunk);
  }

  flush(): void {
    const filled = this.#filled;
    this.#filled = 0;
    for (let at = 0; at < filled * WIDTH; at += WIDTH)
      this.#insertFresh.run(this.#chunk.slice(at, at + WIDTH));
  }

  /** A row that is not there any more is left alone. */
  update(sensor: number, row: Increment): void {
    const place = this.buckets.placeOf(sensor, row.to);
    const length = row.to - row.from;
    const { count, upMs, pulses, class: cls, reason, flags, to, chain } = row;
    const seq = row.seq ?? -1;
    if (place === SETTLED)
      this.#updateSettled.run(length, count, upMs, pulses, cls, reason, flags, sensor, to, chain, seq);
    else
      this.#updateFresh.run(length, count, upMs, pulses, cls, reason, flags, place, sensor, to, chain, seq);
  }

  remove(sensor: number, { to, chain, seq }: Row): void {
    const place = this.buckets.placeOf(sensor, to);
    if (place === SETTLED) this.#removeSettled.run(sensor, to, chain, seq ?? -1);
    else this.#removeFresh.run(place, sensor, to, chain, seq ?? -1);
  }

  /** Cells of `INCREMENT_COLUMNS` of a sensor's rows with `from <= to < until`, ordered by (to, chain, seq). */
  read(sensor: number, from: number, until: number): Cells[] {
    const places = this.buckets.placesBetween(sensor, from, until);
    const rows: Cells[] = [];
    for (const place of places) {
      const found =
        place === SETTLED
          ? this.#readSettled.all(sensor, from, until)
          : this.#readFresh.all(place, sensor, from, until);
      for (const cells of found as Cells[]) rows.push(cells);
    }
    return rows;
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#filled = 0;
    this.buckets.reload();
  }
}
