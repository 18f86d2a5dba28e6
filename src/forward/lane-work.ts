/** What a lane does next, and how it is written down when it is done. */
import { OUTBOX_STREAMS } from '../store/outbox-streams.js';
import type { BatchSize } from './batch-size.js';
import { countGaps } from './cursor.js';
import type { LaneParts } from './lane-parts.js';
import type { Step } from './lane-step.js';
import { Pace } from './pace.js';
import { pickEntries, settleUnsent, type Picked } from './picked.js';
import type { Sink } from './sink.js';
import type { End, Settled } from './sink-book.js';
import { reachOf, Underway, type Reach } from './underway.js';

/** Live entries that are older than this are no longer live: they go behind those that come. */
export const LIVE_MS = 5_000;
/** What has waited for so short is taken as live after all. */
const FRESH_MS = 2_000;
const GONE = 'retention removed it before it was sent';

export class LaneWork {
  readonly #parts: LaneParts;
  readonly #sink: Pick<Sink, 'gatherMs'>;
  readonly #most: BatchSize;
  readonly #pace: Pace;
  readonly #underway: Underway;
  #heads: ReadonlyMap<number, number> = new Map();
  #epoch = 0;
  /** since when live entries wait to be gathered, by the clock that nobody sets, ms; null: none do */
  #gatheringSince: number | null = null;
  /** quarantined records up to this number are to be tried again, behind the other */
  #retry: { after: number; to: number } | null = null;

  /** `most`: how many records a batch may have by now. */
  constructor(parts: LaneParts, sink: Pick<Sink, 'recordsMost' | 'gatherMs'>, most: BatchSize) {
    this.#parts = parts;
    this.#sink = sink;
    this.#most = most;
    this.#underway = new Underway(parts.book);
    const gathered = Math.ceil((parts.backlogPerS * (sink.gatherMs ?? 0)) / 1_000);
    const atOnce = Math.max(1, Math.min(sink.recordsMost, Math.max(parts.backlogPerS, gathered)));
    this.#pace = new Pace(parts.backlogPerS, atOnce, parts.clock.steady());
  }

  /** What the outbox holds now. True: there is something new. */
  setHeads(heads: ReadonlyMap<number, number>, epoch: number): boolean {
    this.#heads = heads;
    this.#epoch = epoch;
    return this.#newCodes().length > 0;
  }

  /** Streams with live entries that are not under way. */
  #newCodes(): number[] {
    const { book } = this.#parts;
    return OUTBOX_STREAMS.map(({ code }) => code).filter(
      (code) => book.codes.includes(code) && (this.#heads.get(code) ?? 0) > this.#underway.liveOf(code),
    );
  }

  /** Entries that wait, live and late. */
  count(): { live: number; late: number } {
    const { book } = this.#parts;
    let [live, late] = [0, 0];
    for (const [code, cursor] of book.cursors) {
      live += Math.max(0, (this.#heads.get(code) ?? 0) - cursor.live);
      late += countGaps(cursor);
    }
    return { live, late };
  }

  /** How long the oldest live entry has waited, ms; 0: none waits. */
  liveLagMs(now: number): number {
    const { book } = this.#parts;
    const codes = book.codes.filter((code) => (this.#heads.get(code) ?? 0) > book.cursor(code).live);
    const first = this.#firstLiveAt(codes);
    return first === null ? 0 : Math.max(0, now - first);
  }

  #firstLiveAt(codes: readonly number[]): number | null {
    const { book, outbox } = this.#parts;
    const times = codes
      .map((code) => outbox.firstAt(code, book.cursor(code).live, this.#heads.get(code)!))
      .filter((at) => at !== null);
    return times.length === 0 ? null : Math.min(...times);
  }

  retryQuarantined(): number {
    const rows = this.#parts.quarantine.list(0, Number.MAX_SAFE_INTEGER);
    const last = rows.at(-1);
    if (last !== undefined) this.#retry = { after: 0, to: last.id };
    return rows.length;
  }

  /** The next batch, behind those that are under way; null: there is none now, or none that may overtake these. */
  choose(): Step | null {
    if (this.#underway.isClosed) return null;
    const live = this.#chooseLive();
    if (live !== null) return live === 'later' ? null : live;
    const room = Math.min(this.#pace.take(this.#parts.clock.steady()), this.#most.records);
    if (room < Math.min(this.#most.records, this.#leastBatch())) return null;
    if (this.#underway.isEmpty)
      return this.#chooseRetry(room) ?? this.#chooseLate(room) ?? this.#chooseBackfill(room);
    return this.#retry === null ? this.#chooseLate(room) : null;
  }

  /** Nothing of what is under way will be written down: it is chosen again. */
  forgetUnderway(): void {
    this.#underway.forget();
  }

  /** Until there may be something to do, ms. */
  idleMs(): number {
    const { late } = this.count();
    if (late > 0 || this.#retry !== null || this.#parts.backfills.hasWork())
      return Math.max(1, this.#pace.waitMs(this.#leastBatch()));
    if (this.#gatheringSince === null) return Number.MAX_SAFE_INTEGER;
    return Math.max(1, this.#gatheringSince + (this.#sink.gatherMs ?? 0) - this.#parts.clock.steady());
  }

  /** Batches behind the live ones are no smaller, so that the pace is kept by few calls. */
  #leastBatch(): number {
    const perTenth = Math.ceil(this.#parts.backlogPerS / 10);
    const gathered = Math.ceil((this.#parts.backlogPerS * (this.#sink.gatherMs ?? 0)) / 2_000);
    return Math.min(this.#most.records, Math.max(1, perTenth, gathered));
  }

  /** `later`: there are some, and they wait for what is under way. */
  #chooseLive(): Step | 'later' | null {
    const { clock } = this.#parts;
    const steadyAt = clock.steady();
    const codes = this.#newCodes();
    if (codes.length === 0) {
      this.#gatheringSince = null;
      return null;
    }
    const { gatherMs = 0 } = this.#sink;
    const recordsMost = this.#most.records;
    this.#gatheringSince ??= steadyAt;
    if (steadyAt < this.#gatheringSince + gatherMs && this.#countNew(codes) < recordsMost) return null;
    if (this.#isOld(codes, clock.now() - gatherMs)) {
      // what is under way must not be put behind
      if (!this.#underway.isEmpty) return 'later';
      this.#leaveOldBehind(codes, clock.now() - gatherMs);
    }
    const picked: Picked[] = [];
    for (const code of codes) {
      const after = this.#underway.liveOf(code);
      const head = this.#heads.get(code)!;
      if (after < head && picked.length < recordsMost)
        picked.push(...this.#pick(code, after, head, recordsMost - picked.length, false));
    }
    if (picked.length === 0) {
      if (!this.#underway.isEmpty) return 'later';
      this.#gatheringSince = null;
      this.#skipEmpty(codes);
      return null;
    }
    this.#gatheringSince = null;
    return this.#stepOf(picked, 'live');
  }

  #countNew(codes: readonly number[]): number {
    return codes.reduce((sum, code) => sum + this.#heads.get(code)! - this.#underway.liveOf(code), 0);
  }

  #pick(code: number, after: number, to: number, limit: number, isBacklog: boolean): Picked[] {
    return pickEntries(this.#parts.outbox, code, [after, to], limit, this.#epoch, isBacklog);
  }

  /** Positions without an entry, as at the beginning of an outbox. */
  #skipEmpty(codes: readonly number[]): void {
    const { book } = this.#parts;
    const skipped = codes
      .filter(
        (code) => this.#parts.outbox.firstAt(code, book.cursor(code).live, this.#heads.get(code)!) === null,
      )
      .map((code) => ({ code, position: this.#heads.get(code)! }));
    book.skip(skipped, 'live');
  }

  #isOld(codes: readonly number[], now: number): boolean {
    const first = this.#firstLiveAt(codes);
    return first !== null && now - first > LIVE_MS;
  }

  /** After an outage: what waited goes behind what comes now. */
  #leaveOldBehind(codes: readonly number[], now: number): void {
    const { book, outbox } = this.#parts;
    const positions = new Map<number, number>();
    for (const code of codes) {
      const { live } = book.cursor(code);
      const last = outbox.lastBefore(code, live, this.#heads.get(code)!, now - FRESH_MS);
      if (last !== null) positions.set(code, last);
    }
    book.leaveBehind(positions);
  }

  #chooseLate(room: number): Step | null {
    const { book } = this.#parts;
    for (const { code } of OUTBOX_STREAMS) {
      const gap = this.#underway.gapOf(code);
      if (gap === null) continue;
      const picked = this.#pick(code, gap[0], gap[1], room, true);
      if (picked.length > 0) return this.#paced(this.#stepOf(picked, 'gap'), picked.length);
      // positions without an entry are left out when nothing before them is under way any more
      if (!this.#underway.isEmpty) return null;
      book.skip([{ code, position: gap[1] }], 'gap');
    }
    return null;
  }

  #paced(step: Step, count: number): Step {
    this.#pace.spend(count);
    return step;
  }

  #stepOf(picked: readonly Picked[], end: End): Step {
    const { book, quarantine } = this.#parts;
    const records = picked.flatMap(({ record }) => (record === null ? [] : [record]));
    return this.#put(reachOf(picked, end), {
      records,
      settle: (refused, now) => {
        const reasons = new Map(refused.map((one) => [one.record, one]));
        const settled = picked.map((one): Settled => {
          if (one.record === null) return settleUnsent(one);
          const { code, position, subject } = one.entry;
          return { code, position, subject, outcome: reasons.has(one.record) ? 'quarantined' : 'delivered' };
        });
        book.settle(settled, end, () => {
          for (const { entry, record } of picked) {
            const found = record === null ? undefined : reasons.get(record);
            if (found !== undefined) quarantine.put(entry.code, entry.subject, found, now);
            else if (record !== null) quarantine.supersede(entry.code, record);
            else if (entry.content === 'gone') this.#noteGone(entry, now);
          }
        });
      },
    });
  }

  /** From now on it is under way, until it is written down. */
  #put(reach: Reach | null, step: Step): Step {
    this.#underway.add(reach);
    return {
      records: step.records,
      settle: (refused, now) => {
        step.settle(refused, now);
        this.#underway.land();
      },
    };
  }

  #noteGone({ code, subject, start }: Picked['entry'], at: number): void {
    this.#parts.book.noteLoss({
      ...{ code, subject, count: 1, firstStart: start, lastStart: start, reason: GONE, at },
    });
  }

  #chooseRetry(room: number): Step | null {
    const retry = this.#retry;
    const { quarantine, book } = this.#parts;
    const rows = retry === null ? [] : quarantine.list(retry.after, room).filter(({ id }) => id <= retry.to);
    const last = rows.at(-1);
    if (last === undefined) {
      this.#retry = null;
      return null;
    }
    this.#pace.spend(rows.length);
    return this.#put(null, {
      records: rows.map(({ record }) => record),
      settle: (refused) => {
        const reasons = new Map(refused.map(({ record, reason }) => [record, reason]));
        book.settle([], 'live', () => {
          for (const { id, code, subject, record } of rows) {
            const reason = reasons.get(record);
            if (reason === undefined) quarantine.remove(id, code, subject, 'delivered');
            else quarantine.keepReason(id, reason);
          }
        });
        // who asked meanwhile begins again
        if (this.#retry === retry) this.#retry = { after: last.id, to: retry!.to };
      },
    });
  }

  #chooseBackfill(room: number): Step | null {
    const { backfills, book, quarantine } = this.#parts;
    const page = backfills.pick(room);
    if (page === null) return null;
    // a page without records takes its turn too, or the thread would do nothing else until they end
    this.#pace.spend(Math.max(1, page.records.length));
    return this.#put(null, {
      records: page.records,
      settle: (refused, now) =>
        book.settle([], 'live', () => {
          for (const one of refused) quarantine.put(page.code, null, one, now);
          backfills.advance(page, refused.length, now);
        }),
    });
  }
}
