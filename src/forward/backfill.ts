/**
 * Stretches of the past that are sent again from the store: asked for by people, or by a sink whose receiver may have lost what
 * it took. Safe by the key, in no ledger.
 */
import type Database from 'better-sqlite3';
import type { OutboxReader } from '../store/outbox-reader.js';
import { OUTBOX_STREAMS } from '../store/outbox-streams.js';
import { readStretch, type StretchItem } from '../store/read-stretch.js';
import { toRecord } from './picked.js';
import { joinAfterDoubt, type Place } from './backfill-places.js';
import type { SinkRecord, Stretch } from './sink.js';

/** `from` inclusive, `to` exclusive, ms; `subject`: sensor or motor, null: all; `codes`: streams of the outbox. */
export interface BackfillWish {
  readonly from: number;
  readonly to: number;
  readonly codes: readonly number[];
  readonly subject: string | null;
  /** after doubt: these and no more, in this order; absent: people asked for all of it */
  readonly places?: readonly Place[];
}

export interface BackfillState {
  readonly id: number;
  readonly wish: BackfillWish;
  readonly sent: number;
  readonly refused: number;
  readonly askedAt: number;
  /** null: it is still under way */
  readonly endedAt: number | null;
}

interface Progress {
  /** index into the places of the wish */
  readonly stream: number;
  readonly cursor: string | null;
}

interface Row {
  readonly id: number;
  readonly wish: string;
  readonly place: string;
  readonly sent: number;
  readonly refused: number;
  readonly asked_at: number;
  readonly ended_at: number | null;
}

export interface BackfillPage {
  readonly id: number;
  readonly code: number;
  readonly records: readonly SinkRecord[];
  /** null: it ends with this page */
  readonly next: Progress | null;
}

const KEPT = 50;

export class Backfills {
  constructor(
    private readonly db: Database.Database,
    private readonly sink: string,
    private readonly outbox: OutboxReader,
  ) {}

  ask(wish: BackfillWish, now: number): number {
    const ordered = OUTBOX_STREAMS.map(({ code }) => code).filter((code) => wish.codes.includes(code));
    this.db
      .prepare(
        `DELETE FROM backfill WHERE sink = ? AND ended_at IS NOT NULL AND id NOT IN
         (SELECT id FROM backfill WHERE sink = ? ORDER BY id DESC LIMIT ${KEPT})`,
      )
      .run(this.sink, this.sink);
    const place: Progress = { stream: 0, cursor: null };
    return Number(
      this.db
        .prepare('INSERT INTO backfill (sink, wish, place, asked_at) VALUES (?, ?, ?, ?)')
        .run(this.sink, JSON.stringify({ ...wish, codes: ordered }), JSON.stringify(place), now)
        .lastInsertRowid,
    );
  }

  /** Joined with one that has not begun, so that a host that comes and goes makes no more than two. */
  askAfterDoubt(stretches: readonly Stretch[], ofSink: readonly number[], now: number): void {
    // the first may be under way: its pages are counted off by place
    const waiting = this.db
      .prepare('SELECT id, wish FROM backfill WHERE sink = ? AND ended_at IS NULL AND id > ? ORDER BY id')
      .all(this.sink, this.#first()?.id ?? 0) as Pick<Row, 'id' | 'wish'>[];
    const same = waiting.find(({ wish }) => (JSON.parse(wish) as BackfillWish).places !== undefined);
    const old = same === undefined ? [] : ((JSON.parse(same.wish) as BackfillWish).places ?? []);
    const places = joinAfterDoubt(old, stretches, ofSink);
    if (places.length === 0) return;
    const wish: BackfillWish = {
      from: Math.min(...places.map(({ from }) => from)),
      to: Math.max(...places.map(({ to }) => to)),
      codes: [...new Set(places.map(({ code }) => code))],
      ...{ subject: null, places },
    };
    if (same === undefined) this.ask(wish, now);
    else this.db.prepare('UPDATE backfill SET wish = ? WHERE id = ?').run(JSON.stringify(wish), same.id);
  }

  hasWork(): boolean {
    return this.#first() !== undefined;
  }

  #first(): Row | undefined {
    return this.db
      .prepare('SELECT * FROM backfill WHERE sink = ? AND ended_at IS NULL ORDER BY id LIMIT 1')
      .get(this.sink) as Row | undefined;
  }

  /** The next records of the oldest that is under way; null: none is. */
  pick(limit: number): BackfillPage | null {
    const row = this.#first();
    if (row === undefined) return null;
    const wish = JSON.parse(row.wish) as BackfillWish;
    const { subject, codes } = wish;
    const places = wish.places ?? codes.map((code) => ({ code, from: wish.from, to: wish.to }));
    const place = JSON.parse(row.place) as Progress;
    const at = places[place.stream];
    const stream = OUTBOX_STREAMS.find(({ code }) => code === at?.code);
    if (at === undefined || stream === undefined) return { id: row.id, code: 0, records: [], next: null };
    return this.outbox.snapshot(() => {
      const query = { from: at.from, to: at.to, subject, limit, cursor: place.cursor };
      const page = readStretch(this.outbox.reader, stream, query);
      const head = this.outbox.heads().get(stream.code) ?? 0;
      const epoch = this.outbox.epoch();
      const records = page.items.map((item) => toBackfilled(item, stream.code, head, epoch));
      const isLast = page.next === null && place.stream + 1 >= places.length;
      const next =
        page.next === null ? { stream: place.stream + 1, cursor: null } : { ...place, cursor: page.next };
      return { id: row.id, code: stream.code, records, next: isLast ? null : next };
    });
  }

  /** Inside a transaction: the page was sent. */
  advance(page: BackfillPage, refused: number, now: number): void {
    this.db
      .prepare(
        'UPDATE backfill SET place = ?, sent = sent + ?, refused = refused + ?, ended_at = ? WHERE id = ?',
      )
      .run(
        JSON.stringify(page.next ?? { stream: Number.MAX_SAFE_INTEGER, cursor: null }),
        ...[page.records.length - refused, refused, page.next === null ? now : null, page.id],
      );
  }

  list(): BackfillState[] {
    const rows = this.db
      .prepare('SELECT * FROM backfill WHERE sink = ? ORDER BY id DESC LIMIT ?')
      .all(this.sink, KEPT) as Row[];
    return rows.map((row) => ({
      ...{ id: row.id, wish: JSON.parse(row.wish) as BackfillWish, sent: row.sent, refused: row.refused },
      ...{ askedAt: row.asked_at, endedAt: row.ended_at },
    }));
  }
}

/** What has no revision of its own is as new as the outbox: whatever changes it later comes behind its head. */
function toBackfilled(item: StretchItem, code: number, head: number, epoch: number): SinkRecord {
  const { name, start, revision, content } = item;
  const at = content.stream === 'alarms' ? (content.row.since ?? epoch) : start;
  const entry = { code, position: head, subject: 0, name, start, at, revision: revision ?? head, content };
  return toRecord(entry, epoch, true)!;
}
