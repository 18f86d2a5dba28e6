/**
 * The forwarder: a lane for each sink, all of them on one reading connection to the store and one file of their own. It
 * tells the engine what is settled everywhere, and looks for what is new twice a second.
 */
import type Database from 'better-sqlite3';
import type { AdviceRow } from '../../shared/write-messages.js';
import type { OutboxReader } from '../store/outbox-reader.js';
import { OUTBOX_STREAMS } from '../store/outbox-streams.js';
import { tellBeginning } from './another-outbox.js';
import { AgeClock } from './age-clock.js';
import { Backfills, type BackfillWish } from './backfill.js';
import type { ForwardClock } from './clock.js';
import { isBalanced, readDeliveryLedger, readLosses } from './delivery-ledger.js';
import { expireEntries } from './expiry.js';
import { Lane } from './lane.js';
import { Quarantine } from './quarantine.js';
import type { SinkSettings } from './registry.js';
import type { Sink, SinkParts } from './sink.js';
import { SinkBook } from './sink-book.js';
import { describeSinkStatus, type SinkLedger, type SinkStatus } from './sink-status.js';
import { StandingWatch } from './standing.js';
import { makeTestRecord } from './test-record.js';

export interface ForwarderParts {
  readonly sinks: readonly SinkSettings[];
  readonly site: string;
  readonly sensors: readonly string[];
  readonly motors: readonly string[];
  readonly db: Database.Database;
  readonly outbox: OutboxReader;
  readonly clock: ForwardClock;
  adviceOf(this: void, alarm: string): AdviceRow;
  openSink(this: void, settings: SinkSettings, parts: SinkParts): Sink;
  random(this: void): number;
  log(this: void, level: 'info' | 'warn' | 'error', facts: object, text: string): void;
  /** by stream: entries up to here are settled at every sink */
  settled(this: void, done: ReadonlyMap<number, number>): void;
}

interface Member {
  readonly settings: SinkSettings;
  readonly book: SinkBook;
  readonly quarantine: Quarantine;
  readonly backfills: Backfills;
  readonly lane: Lane;
  readonly standing: StandingWatch;
  readonly running: Promise<void>;
}

const LOOK_MS = 500;
const EXPIRY_MS = 10_000;
/** What is settled is told again after so long, because an engine that started anew does not know it. */
const TELL_AGAIN_MS = 30_000;
const STOP_MS = 5_000;
const LOSSES_SHOWN = 1_000;

export class Forwarder {
  readonly #parts: ForwarderParts;
  readonly #members = new Map<string, Member>();
  readonly #ages: AgeClock;
  #cancelLook: () => void = () => undefined;
  /** by the clock that nobody sets, as is `#toldAt`; 0: at once */
  #expireAt = 0;
  #toldAt = 0;
  #told = new Map<number, number>();
  #isStopped = false;

  constructor(parts: ForwarderParts) {
    this.#parts = parts;
    this.#ages = new AgeClock(parts.clock);
  }

  /** All of them or, when it throws, none: nothing runs then and nothing is written down. */
  start(): void {
    const { db, outbox, sinks, clock } = this.#parts;
    const now = clock.now();
    const made = db.transaction(() => {
      const epoch = outbox.epoch();
      const isFirst = db.prepare('SELECT 1 FROM sink WHERE epoch = ?').get(epoch) === undefined;
      this.#forgetOthers();
      return sinks.map((settings) => this.#make(settings, now, isFirst));
    })();
    for (const member of made)
      this.#members.set(member.settings.name, { ...member, running: member.lane.run() });
    this.#look();
  }

  /** Sinks that are no longer configured: nobody waits for what they did not get. */
  #forgetOthers(): void {
    const { db, sinks, log } = this.#parts;
    const names = sinks.map(({ name }) => name);
    const gone = (db.prepare('SELECT name FROM sink').pluck().all() as string[]).filter(
      (name) => !names.includes(name),
    );
    db.transaction(() => {
      for (const name of gone) {
        db.prepare('DELETE FROM sink WHERE name = ?').run(name);
        for (const table of ['cursor', 'ledger', 'quarantine', 'backfill', 'loss'])
          db.prepare(`DELETE FROM ${table} WHERE sink = ?`).run(name);
        log(
          'warn',
          { sink: name },
          `the sink ${name} is no longer configured: its ledger and what waited for it are put away`,
        );
      }
    })();
  }

  #make(settings: SinkSettings, now: number, isFirst: boolean): Omit<Member, 'running'> {
    const { db, outbox, clock, random, log } = this.#parts;
    const { name, deadlineMs, retryMostMs, backlogPerS } = settings;
    const book = new SinkBook(name, codesOf(settings), db, outbox);
    const told = tellBeginning(book.open(now, isFirst), name);
    if (told !== null) log('warn', { sink: name }, told);
    const quarantine = new Quarantine(db, book);
    const backfills = new Backfills(db, name, outbox);
    const makeSink = (): Sink => this.#parts.openSink(settings, this.sinkParts(settings, book, backfills));
    const lane = new Lane({
      ...{ name, deadlineMs, retryMostMs, backlogPerS, book, quarantine, backfills, outbox, clock },
      ...{ makeSink, random, log },
    });
    if (told !== null) lane.tally.noteEvent(told);
    const standing = new StandingWatch(book, outbox, settings, clock);
    return { settings, book, quarantine, backfills, lane, standing };
  }

  sinkParts({ name, secrets }: SinkSettings, book: SinkBook, backfills: Backfills): SinkParts {
    const { site, sensors, motors, adviceOf, clock, log } = this.#parts;
    return {
      ...{ name, site, sensors, motors, secrets, adviceOf },
      memory: { read: () => book.readMemory(), write: (json) => book.writeMemory(json) },
      askAgain: (stretches) => {
        backfills.askAfterDoubt(stretches, book.codes, clock.now());
        this.#members.get(name)?.lane.wake();
      },
      now: () => clock.now(),
      steady: () => clock.steady(),
      log: (level, facts, text) => log(level, { sink: name, ...facts }, text),
    };
  }

  #look(): void {
    if (this.#isStopped) return;
    const { clock } = this.#parts;
    this.#tryTo(() => this.#lookOnce(clock.steady()));
    this.#cancelLook = clock.after(LOOK_MS, () => this.#look());
  }

  /** The store or the disk may fail: the next look tries again. */
  #tryTo(work: () => void): void {
    try {
      work();
    } catch (error) {
      const facts = { err: error instanceof Error ? error.stack : String(error) };
      this.#parts.log('error', facts, 'the outbox could not be read');
    }
  }

  #lookOnce(steadyAt: number): void {
    const { outbox, clock } = this.#parts;
    const [heads, epoch] = outbox.snapshot(() => [outbox.heads(), outbox.epoch()] as const);
    for (const { lane } of this.#members.values()) if (lane.work.setHeads(heads, epoch)) lane.wake();
    if (steadyAt >= this.#expireAt) {
      this.#expireAt = steadyAt + EXPIRY_MS;
      // entries that are on their way would be counted twice
      for (const member of this.#members.values())
        member.lane.doBetween(() => this.#tryTo(() => this.#expire(member, clock.now())));
    }
    this.#tellSettled(heads, steadyAt);
  }

  #expire({ settings, book, quarantine, lane }: Member, now: number): void {
    const { outbox, log } = this.#parts;
    const expired = expireEntries(book, outbox, settings, now, this.#ages.now());
    // there may be more
    if (expired > 0) this.#expireAt = 0;
    const given = expired + quarantine.takeGivenUp();
    if (given === 0) return;
    if (!lane.tally.hasToldLoss) {
      lane.tally.hasToldLoss = true;
      const text = `records for the sink ${settings.name} are given up: see "tallypost sinks ledger ${settings.name}"`;
      log('error', { sink: settings.name, count: given }, text);
    }
  }

  #tellSettled(heads: ReadonlyMap<number, number>, steadyAt: number): void {
    const done = new Map<number, number>();
    for (const { code } of OUTBOX_STREAMS) {
      let least = heads.get(code) ?? 0;
      for (const { book } of this.#members.values())
        least = Math.min(least, book.settled().get(code) ?? least);
      done.set(code, least);
    }
    const isNews = [...done].some(([code, position]) => this.#told.get(code) !== position);
    if (!isNews && steadyAt < this.#toldAt + TELL_AGAIN_MS) return;
    this.#told = done;
    this.#toldAt = steadyAt;
    this.#parts.settled(done);
  }

  #member(name: string): Member {
    const member = this.#members.get(name);
    if (member === undefined) throw new UnknownSink(name, [...this.#members.keys()]);
    return member;
  }

  status(): SinkStatus[] {
    const now = this.#parts.clock.now();
    return [...this.#members.values()].map((member) => describeSinkStatus(member, this.#parts.db, now));
  }

  /** Throws `UnknownSink`, as everything below does. */
  ledger(name: string): SinkLedger {
    const { db, outbox } = this.#parts;
    const { book } = this.#member(name);
    const lines = readDeliveryLedger(db, outbox, name, book.cursors);
    const losses = readLosses(db, outbox, name, LOSSES_SHOWN);
    return { sink: name, since: book.since, isBalanced: lines.every(isBalanced), lines, losses };
  }

  /** How many quarantined records are tried again. */
  retry(name: string): number {
    const { lane } = this.#member(name);
    const count = lane.work.retryQuarantined();
    lane.wake(true);
    return count;
  }

  /** Number of the backfill. Streams that the sink does not get are left out. */
  backfill(name: string, wish: BackfillWish): number {
    const { lane, backfills, book } = this.#member(name);
    const codes = wish.codes.filter((code) => book.codes.includes(code));
    const id = backfills.ask({ ...wish, codes }, this.#parts.clock.now());
    lane.wake(true);
    return id;
  }

  /** Null: it was taken; else what it says. */
  async test(name: string): Promise<string | null> {
    const { lane } = this.#member(name);
    const delivered = await lane.sendNow(makeTestRecord(this.#parts.clock.now()));
    if (delivered.outcome === 'later') return delivered.reason;
    return delivered.refused[0]?.reason ?? null;
  }

  async stop(): Promise<void> {
    this.#isStopped = true;
    this.#cancelLook();
    const members = [...this.#members.values()];
    for (const { lane } of members) lane.stop();
    const patience = new Promise<void>((resolve) => this.#parts.clock.after(STOP_MS, resolve));
    await Promise.race([Promise.all(members.map(({ running }) => running)), patience]);
    this.#parts.outbox.close();
    this.#parts.db.close();
  }
}

export class UnknownSink extends Error {
  constructor(name: string, known: readonly string[]) {
    super(`There is no sink "${name}"; there ${known.length === 0 ? 'are none' : `is ${known.join(', ')}`}.`);
  }
}

/** Streams of the outbox that a sink gets. */
export function codesOf({ streams, periods }: Pick<SinkSettings, 'streams' | 'periods'>): number[] {
  return OUTBOX_STREAMS.filter(
    ({ stream, period }) => streams.includes(stream) && (period === null || periods.includes(period)),
  ).map(({ code }) => code);
}
