/**
 * What is known of one sink across restarts: its cursors and its ledger. Whatever is settled is written down in one
 * transaction, cursor and counts together, and only after the receiver has it.
 */
import type Database from 'better-sqlite3';
import type { OutboxReader } from '../store/outbox-reader.js';
import { forgetOutbox, type Beginning } from './another-outbox.js';
import { advanceGap, advanceLive, leaveBehind, settledTo, type Cursor, type Gap } from './cursor.js';

export const OUTCOMES = ['delivered', 'superseded', 'quarantined', 'expired'] as const;
export type Outcome = (typeof OUTCOMES)[number];

/** An entry of the outbox that is done with at this sink. `subject`: id of its name. */
export interface Settled {
  readonly code: number;
  readonly position: number;
  readonly subject: number;
  readonly outcome: Outcome;
}

export type End = 'live' | 'gap';

export class SinkBook {
  readonly cursors = new Map<number, Cursor>();
  /** since when it is kept, ms */
  since = 0;
  /** nothing of a transaction was kept: whoever counts along in memory counts anew */
  onRollback: () => void = () => undefined;

  constructor(
    readonly name: string,
    readonly codes: readonly number[],
    private readonly db: Database.Database,
    private readonly outbox: OutboxReader,
  ) {}

  /** Goes on where it ended, or begins. `isFirst`: nothing was ever forwarded from this outbox, so all that is in it counts. */
  open(now: number, isFirst: boolean): Beginning {
    return this.outbox.snapshot(() => this.db.transaction(() => this.#open(now, isFirst))());
  }

  #open(now: number, isFirst: boolean): Beginning {
    const epoch = this.outbox.epoch();
    const heads = this.outbox.heads();
    const known = this.db.prepare('SELECT epoch, since FROM sink WHERE name = ?').get(this.name) as
      { epoch: number; since: number } | undefined;
    const rows = this.db.prepare('SELECT code, live, gaps FROM cursor WHERE sink = ?').all(this.name) as {
      code: number;
      live: number;
      gaps: string;
    }[];
    const isBehind = rows.every(({ code, live }) => live <= (heads.get(code) ?? 0));
    const ofSameOutbox = isBehind ? 'same' : 'rewound';
    const ofKnown = known?.epoch === epoch ? ofSameOutbox : 'restored';
    const beginning = known === undefined ? 'new' : ofKnown;
    this.since = beginning === 'same' ? known!.since : now;
    if (beginning !== 'same') {
      forgetOutbox(this.db, this.name);
      this.db
        .prepare(
          `INSERT INTO sink (name, epoch, since) VALUES (?, ?, ?)
           ON CONFLICT DO UPDATE SET epoch = excluded.epoch, since = excluded.since`,
        )
        .run(this.name, epoch, now);
    } else for (const { code, live, gaps } of rows) this.#take(code, live, JSON.parse(gaps) as Gap[]);
    for (const code of this.codes) {
      if (this.cursors.has(code)) continue;
      const head = heads.get(code) ?? 0;
      const first = isFirst ? this.outbox.firstPosition(code) : null;
      this.#begin(code, first === null ? head : first - 1, head);
    }
    return beginning;
  }

  #take(code: number, live: number, gaps: Gap[]): void {
    if (this.codes.includes(code)) this.cursors.set(code, { live, gaps });
    else for (const table of ['cursor', 'ledger']) this.#forget(table, code);
  }

  #forget(table: string, code: number): void {
    this.db.prepare(`DELETE FROM ${table} WHERE sink = ? AND code = ?`).run(this.name, code);
  }

  /** What was produced before, and is not in the outbox behind `after`, is none of its business. */
  #begin(code: number, after: number, head: number): void {
    this.cursors.set(code, { live: after, gaps: [] });
    this.#keepCursor(code, { live: after, gaps: [] });
    const waiting = new Map(
      this.outbox.countBySubject(code, after, head).map(({ subject, count }) => [subject, count]),
    );
    const put = this.db.prepare(
      'INSERT OR REPLACE INTO ledger (sink, code, subject, base) VALUES (?, ?, ?, ?)',
    );
    for (const [subject, count] of this.outbox.produced(code))
      put.run(this.name, code, subject, count - (waiting.get(subject) ?? 0));
  }

  cursor(code: number): Cursor {
    return this.cursors.get(code)!;
  }

  /** By stream, up to which position nothing is open any more. */
  settled(): Map<number, number> {
    return new Map([...this.cursors].map(([code, cursor]) => [code, settledTo(cursor)]));
  }

  /** In order of their positions within each stream; durable when it returns. `also`: in the same transaction. */
  settle(entries: readonly Settled[], end: End, also: () => void = () => undefined): void {
    const advance = end === 'live' ? advanceLive : advanceGap;
    const cursors = new Map<number, Cursor>();
    for (const { code, position } of entries)
      cursors.set(code, advance(cursors.get(code) ?? this.cursor(code), position));
    this.#write(entries, cursors, also);
  }

  /** Positions that no entry has: nothing is counted. */
  skip(places: readonly { readonly code: number; readonly position: number }[], end: End): void {
    const advance = end === 'live' ? advanceLive : advanceGap;
    const cursors = new Map(places.map(({ code, position }) => [code, advance(this.cursor(code), position)]));
    if (cursors.size > 0) this.#write([], cursors, () => undefined);
  }

  /** What is open up to these positions is sent behind what is live. */
  leaveBehind(positions: ReadonlyMap<number, number>): void {
    const cursors = new Map(
      [...positions].map(([code, position]) => [code, leaveBehind(this.cursor(code), position)]),
    );
    this.#write([], cursors, () => undefined);
  }

  /** Entries up to `position`, the oldest that are open, are given up. `isGap`: they lie in a gap. */
  expire(code: number, after: number, position: number, isGap: boolean, reason: string, at: number): number {
    const counts = this.outbox.countBySubject(code, after, position);
    const cursor = isGap ? advanceGap(this.cursor(code), position) : advanceLive(this.cursor(code), position);
    this.#write([], new Map([[code, cursor]]), () => {
      for (const { subject, count, firstStart, lastStart } of counts) {
        this.count(code, subject, 'expired', count);
        this.noteLoss({ code, subject, count, firstStart, lastStart, reason, at });
      }
    });
    return counts.reduce((sum, { count }) => sum + count, 0);
  }

  #write(entries: readonly Settled[], cursors: ReadonlyMap<number, Cursor>, also: () => void): void {
    const sums = new Map<string, { entry: Settled; count: number }>();
    for (const entry of entries) {
      const key = `${entry.code} ${entry.subject} ${entry.outcome}`;
      const sum = sums.get(key);
      if (sum === undefined) sums.set(key, { entry, count: 1 });
      else sum.count += 1;
    }
    try {
      this.db.transaction(() => {
        for (const { entry, count } of sums.values())
          this.count(entry.code, entry.subject, entry.outcome, count);
        for (const [code, cursor] of cursors) this.#keepCursor(code, cursor);
        also();
      })();
    } catch (error) {
      this.onRollback();
      throw error;
    }
    // what is not on the disk is not settled: the lane goes on from here
    for (const [code, cursor] of cursors) this.cursors.set(code, cursor);
  }

  #keepCursor(code: number, cursor: Cursor): void {
    this.db
      .prepare('INSERT OR REPLACE INTO cursor VALUES (?, ?, ?, ?)')
      .run(this.name, code, cursor.live, JSON.stringify(cursor.gaps));
  }

  /** Inside a transaction. */
  count(code: number, subject: number, outcome: Outcome, count: number): void {
    this.db
      .prepare(
        `INSERT INTO ledger (sink, code, subject, ${outcome}) VALUES (?, ?, ?, ?)
         ON CONFLICT DO UPDATE SET ${outcome} = ${outcome} + excluded.${outcome}`,
      )
      .run(this.name, code, subject, count);
  }

  /** Inside a transaction. Starts and `at` in ms. */
  noteLoss(loss: {
    readonly code: number;
    readonly subject: number;
    readonly count: number;
    readonly firstStart: number;
    readonly lastStart: number;
    readonly reason: string;
    readonly at: number;
  }): void {
    const { code, subject, count, firstStart, lastStart, at, reason } = loss;
    // one line for an episode, however many portions it is given up in
    const merged = this.db
      .prepare(
        `UPDATE loss SET count = count + ?, first_start = min(first_start, ?), last_start = max(last_start, ?), at = ?
         WHERE sink = ? AND code = ? AND subject = ? AND reason = ? AND at > ?`,
      )
      .run(count, firstStart, lastStart, at, this.name, code, subject, reason, at - EPISODE_MS);
    if (merged.changes > 0) return;
    this.db
      .prepare(
        `INSERT INTO loss (sink, code, subject, count, first_start, last_start, at, reason) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(this.name, code, subject, count, firstStart, lastStart, at, reason);
  }

  /** What the sink itself keeps. */
  readMemory(): string | null {
    const row = this.db.prepare('SELECT memory FROM sink WHERE name = ?').get(this.name) as
      { memory: string | null } | undefined;
    return row?.memory ?? null;
  }

  writeMemory(json: string): void {
    if (json.length > MEMORY_BYTES_MAX)
      throw new Error(`the sink ${this.name} wants to keep more than ${MEMORY_BYTES_MAX} bytes`);
    this.db.prepare('UPDATE sink SET memory = ? WHERE name = ?').run(json, this.name);
  }
}

const MEMORY_BYTES_MAX = 1_048_576;
/** What is given up within so long of one another for one reason is one loss. */
const EPISODE_MS = 86_400_000;
