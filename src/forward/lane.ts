/**
 * The lane of one sink: live entries first, then at its pace what came late, what was quarantined and is to be tried again,
 * and what people asked for again. While a receiver is fast, the next batch is chosen, and sent where a sink takes it, while
 * one is on its way; they are written down in their order. Whatever a sink does, it holds up nothing but its own lane.
 */
import { drawWait } from './backoff.js';
import { BatchSize } from './batch-size.js';
import { DeadlinePassed, underDeadline, waitFor } from './clock.js';
import { CutWatch } from './cut-watch.js';
import { deliver, type Delivered } from './delivery.js';
import type { LaneParts } from './lane-parts.js';
import type { Step } from './lane-step.js';
import { LaneWork } from './lane-work.js';
import { Refusals } from './refusals.js';
import type { Sent, Sink, SinkRecord } from './sink.js';
import { Tally } from './tally.js';

type Later = Extract<Sent, { outcome: 'later' }>;
/** Something that is done between two batches on the lane's own connection. */
type Job = (lane: { call(records: readonly SinkRecord[]): Promise<Delivered> }) => Promise<void>;

/** `delivered` null: it is chosen, and waits for those before it. */
interface Chosen {
  readonly step: Step;
  delivered: Promise<Delivered> | null;
}

const CLOSE_MS = 2_000;
/** A lane with nothing to do looks again after so long, whether somebody woke it or not. */
const IDLE_MS = 5_000;

export class Lane {
  readonly tally: Tally;
  readonly work: LaneWork;
  readonly #parts: LaneParts;
  readonly #size: BatchSize;
  readonly #stop = new AbortController();
  readonly #jobs: Job[] = [];
  readonly #memory = { cuts: new CutWatch(), refusals: new Refusals() };
  /** oldest first */
  readonly #chosen: Chosen[] = [];
  /** aborts the calls that are under way */
  #calls = new AbortController();
  #sink: Sink;
  #isOpen = false;
  /** by the clock that nobody sets; 0: at once */
  #retryAt = 0;
  #sleep = new AbortController();
  #isAsked = false;

  constructor(parts: LaneParts) {
    this.#parts = parts;
    this.tally = new Tally(parts.clock);
    this.#sink = parts.makeSink();
    this.#size = new BatchSize(this.#sink.recordsMost, parts.deadlineMs);
    this.work = new LaneWork(parts, this.#sink, this.#size);
  }

  get isOpen(): boolean {
    return this.#isOpen;
  }

  /** There may be something to do. While it waits after a failure only people wake it. */
  wake(isUrgent = false): void {
    if (isUrgent) this.#retryAt = 0;
    if (this.#retryAt === 0) this.#sleep.abort();
  }

  /** Ends with `stop`. */
  async run(): Promise<void> {
    const { log, name } = this.#parts;
    while (!this.#stop.signal.aborted) {
      try {
        await this.#turn();
      } catch (error) {
        // our own mistake, or the disk: the lane goes on from what is written down
        const says = error instanceof Error ? error.message : String(error);
        log(
          'error',
          { sink: name, err: error instanceof Error ? error.stack : says },
          'a sink failed by itself',
        );
        await this.#giveUpChosen();
        this.#fail({ outcome: 'later', reason: says, retryAfterMs: null });
        await this.#drop();
      }
    }
    await this.#drop();
  }

  async #turn(): Promise<void> {
    // it must find nothing under way
    const job = this.#chosen.length === 0 ? this.#jobs.shift() : undefined;
    if (job !== undefined) {
      await job({ call: (records) => this.#deliver(records) });
      return;
    }
    if (this.#chosen.length === 0 && !(await this.#isReady())) return;
    this.#chooseAhead();
    const [first] = this.#chosen;
    if (first === undefined) await this.#rest(Math.min(IDLE_MS, this.work.idleMs()));
    else await this.#finish(first);
  }

  /** False: it waits after a failure, or the sink could not be opened. */
  async #isReady(): Promise<boolean> {
    const waitMs = this.#retryAt - this.#parts.clock.steady();
    if (waitMs > 0) {
      await this.#rest(waitMs);
      return false;
    }
    this.#retryAt = 0;
    const opened = await this.#open();
    if (opened === null) return true;
    await this.#putOff(opened);
    return false;
  }

  async #rest(ms: number): Promise<void> {
    if (this.#jobs.length > 0 || this.#stop.signal.aborted) return;
    this.#sleep = new AbortController();
    await waitFor(this.#parts.clock, ms, this.#sleep.signal);
  }

  /** Chooses as many batches as may be there at a time, and begins the calls that may be under way. */
  #chooseAhead(): void {
    const most = this.#size.isFast ? Math.max(2, this.#sink.callsAtOnce ?? 1) : 1;
    while (this.#chosen.length < most && this.#jobs.length === 0) {
      // the receiver has work while the next batch is read
      this.#startCalls();
      const step = this.work.choose();
      if (step === null) break;
      this.#chosen.push({ step, delivered: null });
    }
    this.#startCalls();
  }

  #startCalls(): void {
    const most = this.#size.isFast ? (this.#sink.callsAtOnce ?? 1) : 1;
    for (const one of this.#chosen.slice(0, most)) {
      one.delivered ??= this.#deliver(one.step.records);
      // whoever waits for it hears of it; those that are given up nobody waits for
      one.delivered.catch(() => undefined);
    }
  }

  async #finish(first: Chosen): Promise<void> {
    const { step } = first;
    const delivered = await first.delivered!;
    this.#chosen.shift();
    if (delivered.outcome === 'later') {
      await this.#giveUpChosen();
      await this.#putOff(delivered);
      return;
    }
    // the next one goes on its way while this one is written down
    this.#startCalls();
    step.settle(delivered.refused, this.#parts.clock.now());
    const { refused } = delivered;
    // a batch of which nothing was taken, or nothing is sent, does not say that the receiver works
    if (step.records.length > refused.length) this.tally.noteSuccess(step.records.length - refused.length);
    if (refused[0] !== undefined) this.tally.noteEvent(`${refused.length} refused: ${refused[0].reason}`);
  }

  /** What is chosen is not written down: it is chosen again. */
  async #giveUpChosen(): Promise<void> {
    const gone = this.#chosen.splice(0);
    this.work.forgetUnderway();
    // a connection is cut only where something is on its way over it
    if (gone.every(({ delivered }) => delivered === null)) return;
    this.#calls.abort();
    this.#calls = new AbortController();
    await Promise.allSettled(gone.flatMap(({ delivered }) => (delivered === null ? [] : [delivered])));
  }

  #deliver(records: readonly SinkRecord[]): Promise<Delivered> {
    if (records.length === 0) return Promise.resolve({ outcome: 'done', refused: [] });
    return deliver(records, (part) => this.#send(part), this.#memory);
  }

  async #send(records: readonly SinkRecord[]): Promise<Sent> {
    const opened = await this.#open();
    if (opened !== null) return opened;
    const { steady } = this.#parts.clock;
    const { signal } = this.#calls;
    const startedAt = steady();
    const sent = await this.#sendOpen(records);
    if (sent.outcome !== 'later') this.#size.noteAnswer(records.length, steady() - startedAt);
    else if (!signal.aborted) this.#size.noteLater(records.length, steady() - startedAt);
    // what is sent next, of the same batch, goes on another connection
    if (sent.outcome === 'later' && sent.isCut === true) await this.#drop();
    return sent;
  }

  async #sendOpen(records: readonly SinkRecord[]): Promise<Sent> {
    try {
      return await this.#underDeadline((signal) => this.#sink.send(records, signal));
    } catch (error) {
      if (!(error instanceof DeadlinePassed)) throw error;
      this.#abandon();
      return { outcome: 'later', reason: error.message, retryAfterMs: null };
    }
  }

  #underDeadline<T>(call: (signal: AbortSignal) => Promise<T>): Promise<T> {
    const { clock, deadlineMs } = this.#parts;
    return underDeadline(clock, deadlineMs, this.#calls.signal, call);
  }

  /** Null: it is open. */
  async #open(): Promise<Later | null> {
    if (this.#isOpen) return null;
    try {
      await this.#underDeadline((signal) => this.#sink.open(signal));
      this.#isOpen = true;
      return null;
    } catch (error) {
      if (error instanceof DeadlinePassed) this.#abandon();
      else await this.#drop();
      const reason = error instanceof Error ? error.message : String(error);
      return { outcome: 'later', reason, retryAfterMs: null };
    }
  }

  async #putOff(later: Later): Promise<void> {
    if (this.#stop.signal.aborted) return;
    this.#fail(later);
    if (later.isOpen !== true) await this.#drop();
  }

  #fail(later: Later): void {
    const { retryMostMs, random, log, name, clock } = this.#parts;
    if (this.tally.noteFailure(later.reason))
      log('warn', { sink: name, reason: later.reason }, `the sink ${name} takes nothing: it is tried again`);
    this.#retryAt = clock.steady() + drawWait(this.tally.failures, retryMostMs, later.retryAfterMs, random);
  }

  async #drop(): Promise<void> {
    this.#isOpen = false;
    const gone = this.#sink.close();
    const patience = new AbortController();
    await Promise.race([gone, waitFor(this.#parts.clock, CLOSE_MS, patience.signal)]);
    patience.abort();
  }

  /** It answers to nothing: whatever it still does is its own affair. */
  #abandon(): void {
    this.#isOpen = false;
    void this.#sink.close().catch(() => undefined);
    this.#sink = this.#parts.makeSink();
  }

  /** Sends one record now, whatever waits. */
  sendNow(record: SinkRecord): Promise<Delivered> {
    return new Promise((resolve) => {
      this.#jobs.push(async (lane) => {
        const delivered = await lane.call([record]).catch((error: unknown) => ({
          outcome: 'later' as const,
          reason: error instanceof Error ? error.message : String(error),
          retryAfterMs: null,
        }));
        if (delivered.outcome === 'later') await this.#drop();
        else this.#retryAt = 0;
        resolve(delivered);
      });
      this.#sleep.abort();
    });
  }

  /** Does it between two batches, once however often it is asked for: what is on its way is not touched. It must not throw. */
  doBetween(work: () => void): void {
    if (this.#isAsked) return;
    this.#isAsked = true;
    this.#jobs.push(() => {
      this.#isAsked = false;
      work();
      return Promise.resolve();
    });
    this.#sleep.abort();
  }

  stop(): void {
    this.#stop.abort();
    this.#calls.abort();
    this.#sleep.abort();
  }
}
