/**
 * The notifier: reads the journal behind its cursor, lets the planner decide, keeps what was decided, and only then sends.
 * Changes of its state come one after the other; sending goes on beside them, one lane a channel. It lives on the main
 * thread and waits for everything it does, so it holds up nothing there.
 */
import { concatMap, defer, Subject } from 'rxjs';
import { composeMessage, listEntryIds } from './compose-message.js';
import { describeEntries, type DescribeAlarm, type JournalPage } from './journal-page.js';
import { Lane } from './lane.js';
import { newState, readState, writeState } from './notify-state.js';
import type { ChannelKey, NotifyState, Outgoing } from './notify-state.js';
import { describeStatus, type NotifyStatus } from './notify-status.js';
import { isFor, planMessages } from './plan-messages.js';
import { fitState, settleDelivery, type Outcome } from './settle-delivery.js';
import { listChannels, sendOver, testRoute, type NotifySettings, type TestResult } from './channels.js';

export interface NotifyLog {
  info(facts: object, text: string): void;
  warn(facts: object, text: string): void;
}

export interface NotifierWishes {
  readonly settings: NotifySettings;
  readonly describe: DescribeAlarm;
  /** what `keep` kept last; null: nothing yet */
  readKept(): Promise<string | null>;
  /** id of the last entry that was written before `at` (ms); 0: none was */
  readHead(at: number): Promise<number>;
  readAfter(id: number, limit: number): Promise<JournalPage>;
  readEntries(ids: readonly number[]): Promise<JournalPage>;
  /** durable when it resolves; `json` null: only the sentences, which go into the journal */
  keep(json: string | null, notes: readonly string[]): Promise<void>;
  now(this: void): number;
  random(this: void): number;
  readonly log: NotifyLog;
}

const PAGE_ENTRIES = 200;
/** What cannot be read or kept now is tried again after so long. */
const RETRY_MS = 2_000;
/** The clock may be set, and a timer knows nothing of it. */
const SLEEP_MOST_MS = 30_000;

export class Notifier {
  readonly #wishes: NotifierWishes;
  readonly #jobs = new Subject<() => Promise<void>>();
  #settings: NotifySettings;
  #state: NotifyState | null = null;
  /** what the store holds */
  #kept = '';
  #isKept = true;
  /** sentences that are not in the journal yet */
  #notes: string[] = [];
  readonly #startedAt: number;
  readonly #lanes = new Map<ChannelKey, Lane>();
  #timer: NodeJS.Timeout | null = null;
  #isLookDue = false;
  #isStopped = false;

  constructor(wishes: NotifierWishes) {
    this.#wishes = wishes;
    this.#settings = wishes.settings;
    this.#startedAt = wishes.now();
    this.#jobs.pipe(concatMap((job) => defer(job))).subscribe();
    this.#openChannels();
    this.look();
  }

  /** There may be something new in the journal. */
  look(): void {
    if (this.#isLookDue || this.#isStopped) return;
    this.#isLookDue = true;
    this.#enqueue(async () => {
      this.#isLookDue = false;
      await this.#readOn();
    });
  }

  /** Another configuration from here on; what waits goes the new ways. */
  async reconfigure(settings: NotifySettings): Promise<void> {
    await this.#closeLanes(); // not as one of the jobs: what a lane has just sent is settled by another one
    await this.#ask(async () => {
      this.#settings = settings;
      this.#openChannels();
      if (this.#state === null) return;
      await this.#adopt(fitState(this.#state, settings.plan));
      await this.#readOn();
    });
  }

  test(route: string): Promise<TestResult[] | null> {
    return testRoute(this.#settings, route, this.#wishes.now());
  }

  status(): NotifyStatus {
    const health = new Map([...this.#lanes].map(([key, lane]) => [key, lane.health]));
    return describeStatus(this.#settings.plan, this.#state, health, this.#wishes.now());
  }

  /** What is under way is given up and told again after the next start. */
  async stop(): Promise<void> {
    if (this.#isStopped) return;
    this.#isStopped = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
    await this.#closeLanes();
    await this.#ask(() => Promise.resolve());
    this.#jobs.complete();
  }

  #enqueue(job: () => Promise<void>): void {
    this.#jobs.next(async () => {
      try {
        await job();
      } catch (error) {
        if (this.#isStopped) return;
        this.#wishes.log.warn(
          { err: error },
          'notification: it could not be read or kept; it is tried again',
        );
        this.#wakeIn(RETRY_MS);
      }
    });
  }

  #ask(job: () => Promise<void>): Promise<void> {
    return new Promise((resolve) => this.#enqueue(() => job().finally(resolve)));
  }

  async #open(): Promise<NotifyState> {
    if (this.#state !== null) return this.#state;
    const json = await this.#wishes.readKept();
    const kept = readState(json);
    const state = kept ?? newState(await this.#wishes.readHead(this.#startedAt));
    this.#kept = kept === null ? '' : (json ?? '');
    this.#notes.push(...fitState(state, this.#settings.plan));
    this.#state = state;
    return state;
  }

  /**
   * Page after page into the plan; with an empty page only the time has gone on. Kept once, after the last: what was read
   * before a crash is read again.
   */
  async #readOn(): Promise<void> {
    const state = await this.#open();
    for (;;) {
      if (this.#isStopped) return;
      const page = await this.#wishes.readAfter(state.cursor, PAGE_ENTRIES);
      const entries = describeEntries(page, this.#wishes.describe);
      const planned = planMessages(state, entries, this.#settings.plan, this.#wishes.now());
      this.#notes.push(...planned.notes);
      if (page.entries.length === PAGE_ENTRIES) continue;
      await this.#adopt([]);
      this.#wakeAt(planned.wakeAt);
      return;
    }
  }

  /**
   * Keeps first and sends then. When it cannot be kept, it is sent all the same: told twice after a restart is better than
   * not told because the disk is full.
   */
  async #adopt(notes: readonly string[]): Promise<void> {
    if (this.#state === null) return;
    this.#notes.push(...notes);
    const json = writeState(this.#state);
    if (json !== this.#kept || this.#notes.length > 0) {
      this.#isKept = false;
      try {
        await this.#wishes.keep(json === this.#kept ? null : json, this.#notes);
        this.#kept = json;
        this.#notes = [];
        this.#isKept = true;
      } catch (error) {
        this.#wishes.log.warn(
          { err: error },
          'notification: its record could not be kept; it is tried again',
        );
        this.#wakeIn(RETRY_MS);
      }
    }
    for (const lane of this.#lanes.values()) lane.kick();
  }

  #openChannels(): void {
    for (const key of listChannels(this.#settings)) this.#lanes.set(key, this.#openLane(key));
  }

  #openLane(channel: ChannelKey): Lane {
    const { now, random } = this.#wishes;
    return new Lane({
      ...{ now, random },
      queue: () => this.#state?.outbox.filter((message) => isFor(message, channel)) ?? [],
      send: (message, signal) => this.#compose(message, channel, signal),
      settle: (message, outcome) =>
        this.#ask(async () => {
          if (this.#state === null) return;
          const at = this.#wishes.now();
          const { plan } = this.#settings;
          await this.#adopt(settleDelivery(this.#state, message.id, channel, outcome, plan, at));
        }),
    });
  }

  async #closeLanes(): Promise<void> {
    await Promise.all([...this.#lanes.values()].map((lane) => lane.stop()));
    this.#lanes.clear();
  }

  async #compose(message: Outgoing, channel: ChannelKey, signal: AbortSignal): Promise<Outcome> {
    try {
      const { entries, alarms } = await this.#wishes.readEntries(listEntryIds(message));
      const rows = new Map(alarms.map((row) => [row.id, row]));
      const { site, timeZone } = this.#settings.plan;
      const text = composeMessage(message, {
        ...{ site, timeZone },
        entries: new Map(entries.map((entry) => [entry.id, entry])),
        facts: (alarm) => this.#wishes.describe(alarm, rows.get(alarm) ?? null),
      });
      const now = this.#wishes.now();
      return await sendOver(channel, this.#settings, text, message.email, now, signal);
    } catch (error) {
      const reason = `it could not be written: ${error instanceof Error ? error.message : String(error)}`;
      return { kind: 'later', scope: 'message', reason, retryAfterMs: null };
    }
  }

  #wakeAt(at: number | null): void {
    const longestMs = this.#isKept ? SLEEP_MOST_MS : RETRY_MS;
    this.#wakeIn(at === null ? longestMs : Math.min(longestMs, at - this.#wishes.now()));
  }

  #wakeIn(ms: number): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    if (this.#isStopped) return;
    this.#timer = setTimeout(() => this.look(), Math.max(1, ms));
  }
}
