/**
 * Where a reading's row lies. The store is read by sensor, but it is written by time: were each sensor's rows kept
 * together from the start, every reading would rewrite a page of its own, eighty times its size, and once more when it is
 * classified. So new rows go into buckets of some two thousand that are near in time, and from there, many at once, to
 * the table where each sensor's rows lie together: `fresh` and `settled`. Readers see both as the view `increment`.
 *
 * The place of a row is a function of its sensor and its time alone:
 * - before the first bucket: settled;
 * - while the oldest buckets are moved, sensor by sensor: settled, if its sensor has had its turn there;
 * - else in the last bucket that begins at or before it.
 */
import { BucketMove } from './bucket-move.js';
import type { Prepared, Statements } from './statements.js';

/** Place of rows that are settled; buckets have numbers from 1. */
export const SETTLED = 0;

export interface BucketLimits {
  /** rows of a bucket, about */
  readonly rows: number;
  /** when there are so many buckets, or rows for so many… */
  readonly most: number;
  /** …the oldest of them are moved: so many, or rows for so many */
  readonly moved: number;
}

/**
 * Our choice: a bucket is about a hundred kilobytes, little to write with a commit; the rows that are moved at once fill
 * pages even with a thousand sensors; and a sensor's fresh rows are found in as many places as there are buckets.
 */
const LIMITS: BucketLimits = { rows: 2048, most: 96, moved: 64 };
/** Least rows to move or delete with a commit, and how many for each row that came: each is moved and deleted once. */
const MOVE_ROWS = 500;
const MOVE_SHARE = 3;
/** A sensor's turn without any rows takes as long as moving so many. */
const TURN_ROWS = 20;
/** The first bucket begins so much before the first row, for sensors whose readings come a little later. */
const LEAD_MS = 86_400_000;

export interface Bucket {
  readonly id: number;
  /** the earliest time of its rows */
  readonly from: number;
  /** how many came */
  rows: number;
}

export class Buckets {
  /** without gaps in their ids; ascending by id, and by time */
  #buckets: Bucket[] = [];
  /** of their rows */
  #total = 0;
  /** of the last bucket */
  #newest = 0;
  /** the lowest bucket number that may still have rows; those below the first bucket's nobody sees */
  #oldest = 0;
  /** rows that came since the last `advance` */
  #arrived = 0;
  readonly #move: BucketMove;
  readonly #open: Prepared;
  readonly #deleteStale: Prepared;

  constructor(
    private readonly statements: Statements,
    private readonly limits = LIMITS,
  ) {
    this.#move = new BucketMove(statements);
    this.#open = statements.prepare('INSERT INTO bucket (id, from_to) VALUES (?, ?)');
    this.#deleteStale = statements.prepare('DELETE FROM fresh WHERE bucket = ?');
    this.reload();
  }

  /** From the tables: at opening, and when a rollback took something back. */
  reload(): void {
    const { db } = this.statements;
    const all = (sql: string): number[][] => db.prepare(sql).raw().all() as number[][];
    this.#buckets = all('SELECT id, from_to FROM bucket ORDER BY id').map(([id, from]) => ({
      id: id!,
      from: from!,
      rows: 0,
    }));
    this.#move.reload();
    const first = this.#buckets[0]?.id ?? 0;
    this.#total = 0;
    this.#newest = 0;
    for (const [id, rows, newest] of all(
      `SELECT bucket, count(*), max(to_ms) FROM fresh WHERE bucket >= ${first} GROUP BY bucket`,
    )) {
      const bucket = this.#buckets[id! - first]!;
      bucket.rows = rows!;
      this.#total += rows!;
      if (bucket === this.#buckets[this.#buckets.length - 1]) this.#newest = newest!;
    }
    this.#oldest = all('SELECT coalesce(min(bucket), 0) FROM fresh')[0]![0]!;
    this.#arrived = 0;
  }

  /** `SETTLED`, or the bucket of a row. */
  placeOf(sensor: number, to: number): number {
    const index = this.#indexAt(to);
    return index < 0 || to < this.#move.movedUntil(sensor) ? SETTLED : this.#buckets[index]!.id;
  }

  /** The place of a row that is about to be inserted; may begin a bucket. */
  placeNew(sensor: number, to: number): number {
    const last = this.#buckets[this.#buckets.length - 1];
    if (last === undefined) this.#begin(1, to - LEAD_MS);
    else if (last.rows >= this.limits.rows && to > this.#newest) this.#begin(last.id + 1, this.#newest + 1);
    this.#arrived += 1;
    const place = this.placeOf(sensor, to);
    if (place === SETTLED) return SETTLED;
    this.#buckets[place - this.#buckets[0]!.id]!.rows += 1;
    this.#total += 1;
    if (to > this.#newest) this.#newest = to;
    return place;
  }

  /** The places that hold a sensor's rows with `from <= to < until`, in order of time. */
  placesBetween(sensor: number, from: number, until: number): number[] {
    const settled = Math.max(this.#move.movedUntil(sensor), this.#buckets[0]?.from ?? Infinity);
    const places = from < settled ? [SETTLED] : [];
    const first = Math.max(0, this.#indexAt(Math.max(from, settled)));
    for (let i = first; i < this.#buckets.length && this.#buckets[i]!.from < until; i++)
      places.push(this.#buckets[i]!.id);
    return places;
  }

  /**
   * Call once in each transaction: moves some rows on, in proportion to what came, so that no commit is long. How many
   * rows were moved and deleted.
   */
  advance(): number {
    const most = Math.max(MOVE_ROWS, MOVE_SHARE * this.#arrived);
    this.#arrived = 0;
    let done = 0;
    while (done < most && this.#oldest > 0 && this.#oldest < (this.#buckets[0]?.id ?? 0)) {
      done += this.#deleteStale.run(this.#oldest).changes;
      this.#oldest += 1;
    }
    if (!this.#move.isOn) this.#beginWhenFull();
    while (done < most && this.#move.isOn) {
      done += TURN_ROWS + this.#move.moveNext(this.#buckets);
      if (this.#move.isOver) this.#dropMoved();
    }
    return done;
  }

  /**
   * Begins to move all rows before a time, however few they are, and those that share their last bucket; `advance` goes on
   * with it. Does nothing before `slackMs` of such rows have gathered.
   */
  settleBefore(time: number, slackMs: number): void {
    const [first] = this.#buckets;
    if (first === undefined || this.#move.isOn || first.from > time - slackMs) return;
    const last = this.#buckets[this.#buckets.length - 1]!;
    let next = this.#buckets.find(({ from }) => from > time);
    next ??= last.rows === 0 ? last : this.#begin(last.id + 1, this.#newest + 1);
    if (next !== first) this.#move.begin(next.from);
  }

  /** Index of the last bucket that begins at or before a time; −1: none does. */
  #indexAt(to: number): number {
    let low = 0;
    let high = this.#buckets.length;
    if (high > 0 && this.#buckets[high - 1]!.from <= to) return high - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.#buckets[middle]!.from <= to) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  #beginWhenFull(): void {
    const { rows, most, moved } = this.limits;
    if (this.#buckets.length < most && this.#total < most * rows) return;
    let last = 0;
    let sum = 0;
    while (last < moved && sum < moved * rows && last < this.#buckets.length - 1)
      sum += this.#buckets[last++]!.rows;
    if (last > 0) this.#move.begin(this.#buckets[last]!.from);
  }

  #begin(id: number, from: number): Bucket {
    this.#open.run(id, from);
    const bucket = { id, from, rows: 0 };
    this.#buckets.push(bucket);
    if (this.#oldest === 0) this.#oldest = id;
    return bucket;
  }

  /** The buckets are gone at once; the rows that are left in them, little by little. */
  #dropMoved(): void {
    const until = this.#move.end();
    this.#buckets = this.#buckets.filter(({ from }) => from >= until);
    this.#total = this.#buckets.reduce((sum, { rows }) => sum + rows, 0);
  }
}
