/**
 * The engine: one job at a time, decode -> core -> commit -> answer. A job is a batch of messages, a tick, or a person's
 * request. When a commit fails, or the clock is wrong, everything in memory is dropped, those who wait are told so, and it
 * tries again from what the store holds.
 */
import { concatMap, defer, Subject } from 'rxjs';
import type { SinkStanding } from '../core/facts.js';
import type { Plan } from '../core/plan.js';
import type { Outputs } from '../core/rows.js';
import { runCall, type CallContext } from './calls.js';
import type { Clock } from './clock.js';
import { ClockVote } from './clock-vote.js';
import type { EngineCore } from './engine-core.js';
import { readEngineRecord } from './engine-record.js';
import type { EngineStore } from './engine-store.js';
import { causeOf, ClockNotInDoubt, explainFailure, faultOf, NotReady } from './failure.js';
import { journalHalt, recordHalt, tellHalt, type Halt } from './gateway-alarm.js';
import type { Call, FrameBatch, FromEngine, HaltCause, ToEngine, Told } from './protocol.js';
import { QuarantineBudget } from './quarantine.js';
import { readRetained } from './retained.js';
import { NO_WORK, Running, TICK_MS, type Work } from './running.js';
import { tellAlarm } from './told.js';

const RETRY_LEAST_MS = 250;
const RETRY_MOST_MS = 10_000;
const TIDY_EVERY_MS = 60_000;

export interface EngineWishes<S> {
  readonly plan: Plan;
  readonly core: EngineCore<S>;
  readonly clock: Clock;
  /** a tick waits this long for a batch that takes it along, so that a slow card is not written twice */
  readonly minCommitIntervalMs: number;
  openStore(): EngineStore;
  post(this: void, message: FromEngine, transfer: readonly ArrayBuffer[]): void;
}

type Job =
  | { readonly kind: 'batch'; readonly batch: FrameBatch }
  | { readonly kind: 'tick' }
  | { readonly kind: 'recover' }
  | { readonly kind: 'call'; readonly id: number; readonly call: Call };

export class Engine<S> {
  readonly #wishes: EngineWishes<S>;
  readonly #jobs = new Subject<Job>();
  readonly #budget = new QuarantineBudget();
  readonly #vote: ClockVote;
  #plan: Plan;
  #store: EngineStore | null = null;
  /** null: halted */
  #running: Running<S> | null = null;
  /** why it halted, until that is journalled */
  #halted: Halt | null = null;
  /** time of the last tick that is stored */
  #tickedAt = 0;
  #tidyAt = 0;
  #retryMs = RETRY_LEAST_MS;
  #timer: NodeJS.Timeout | null = null;
  #isHeard = false;
  #sinks: readonly SinkStanding[] = [];
  #isStopped = false;
  #figures = { batches: 0, messages: 0, failures: 0, lastCommitAt: 0, busyMs: 0 };

  constructor(wishes: EngineWishes<S>) {
    this.#wishes = wishes;
    this.#plan = wishes.plan;
    this.#vote = new ClockVote(wishes.plan.futureToleranceMs, wishes.plan.reviseHorizonMs);
    this.#jobs.pipe(concatMap((job) => defer(() => this.#do(job)))).subscribe();
  }

  /** Opens the store and begins; says `ready`, or `halted` and tries again. */
  start(): void {
    this.#jobs.next({ kind: 'recover' });
  }

  receive(message: ToEngine): void {
    if (message.kind === 'interest') this.#isHeard = message.outbound;
    else if (message.kind === 'forwarded') this.#store?.settleOutbox?.(message.done);
    else if (message.kind === 'sinks') this.#sinks = message.sinks;
    else this.#jobs.next(message);
  }

  /** Never rejects: whatever goes wrong is told. */
  async #do(job: Job): Promise<void> {
    const begin = performance.now();
    if (job.kind === 'batch') this.#commitFrames(job.batch);
    else if (job.kind === 'tick') this.#commitTick();
    else if (job.kind === 'recover') this.#recover();
    else await this.#answer(job.id, job.call);
    this.#figures.busyMs += performance.now() - begin;
  }

  #commitFrames(batch: FrameBatch): void {
    const running = this.#running;
    if (running === null || this.#isClockWrong(false)) return;
    this.#attempt(() => {
      const decoded = running.decode(batch);
      if (decoded === null) return;
      // the devices are asked with what they say in this batch: it was dated by the clock that they may doubt
      const doubt = this.#vote.findFault(this.#wishes.clock.now());
      if (doubt !== null) return this.#halt('clock-wrong', doubt);
      const told = running.commit({ ...decoded, journal: [] }, this.#isHeard);
      this.#noteCommit(running);
      this.#figures.batches += 1;
      this.#figures.messages += batch.count;
      const { id, buffer } = batch;
      this.#wishes.post({ kind: 'done', id, rejected: decoded.rejected, buffer, told }, [buffer]);
    });
  }

  #commitTick(): void {
    const running = this.#running;
    if (running === null || this.#isClockWrong()) return;
    this.#schedule();
    if (running.isTickDue()) {
      this.#attempt(() => {
        this.#tell(running.commit(NO_WORK, this.#isHeard));
        this.#noteCommit(running);
      });
    }
    if (this.#tickedAt >= this.#tidyAt) this.#tidy();
    const { refused, leftOut } = this.#budget;
    const clockDoubt = this.#vote.findDoubt(this.#wishes.clock.now());
    const figures = { ...this.#figures, refused, refusedNotKept: leftOut, clockDoubt };
    this.#wishes.post({ kind: 'figures', figures }, []);
  }

  /** A failure here takes nothing back that is stored: it is told, and tried again later. */
  #tidy(): void {
    this.#tidyAt = this.#tickedAt + TIDY_EVERY_MS;
    try {
      if (this.#store?.tidy(this.#tickedAt) === true) this.#tidyAt = this.#tickedAt + TICK_MS;
    } catch (error) {
      this.#tellLog('warn', { reason: faultOf(error).message }, 'old rows could not be removed');
    }
  }

  #noteCommit(running: Running<S>): void {
    this.#tickedAt = running.tickedAt;
    this.#figures.lastCommitAt = this.#wishes.clock.now();
  }

  #tell(told: Told | null): void {
    if (told !== null) this.#wishes.post({ kind: 'told', told }, []);
  }

  #openStore(): EngineStore {
    if (this.#store !== null) return this.#store;
    const store = this.#wishes.openStore();
    if (store.setAside !== null) {
      const file = store.setAside;
      this.#tellLog('error', { file }, 'the database was corrupt: it is set aside and a new one begun');
    }
    this.#store = store;
    return store;
  }

  /** Runs what may fail; then nothing in memory is good any more. */
  #attempt(work: () => void): void {
    try {
      work();
    } catch (error) {
      this.#figures.failures += 1;
      const reason = explainFailure(error);
      this.#tellLog('error', { stack: error instanceof Error ? error.stack : String(error) }, reason);
      this.#halt(causeOf(error), reason);
    }
  }

  #tellLog(level: 'info' | 'warn' | 'error', facts: object, text: string): void {
    this.#wishes.post({ kind: 'notice', level, facts, text }, []);
  }

  #isClockWrong(asksDevices = true): boolean {
    const { clock } = this.#wishes;
    const stepMs = clock.takeStep();
    if (stepMs !== 0) {
      this.#tellLog('warn', { stepMs }, 'the clock of this machine was set');
      this.#vote.clear();
    }
    const fault = clock.findFault(this.#tickedAt) ?? (asksDevices ? this.#vote.findFault(clock.now()) : null);
    if (fault !== null) this.#halt('clock-wrong', fault);
    return fault !== null;
  }

  #halt(cause: HaltCause, reason: string): void {
    this.#running = null;
    if (this.#halted?.cause !== cause) this.#halted = { cause, reason, at: this.#wishes.clock.now() };
    const alarm = tellHalt(this.#plan.site, this.#halted, false);
    const record = recordHalt(this.#halted, false);
    this.#wishes.post({ kind: 'halted', reason, alarm, record }, []);
    const waitMs = this.#retryMs;
    this.#retryMs = Math.min(RETRY_MOST_MS, waitMs * 2);
    this.#setTimer(waitMs, { kind: 'recover' });
  }

  #schedule(): void {
    const { clock, minCommitIntervalMs } = this.#wishes;
    this.#setTimer(TICK_MS - (clock.now() % TICK_MS) + minCommitIntervalMs, { kind: 'tick' });
  }

  #setTimer(waitMs: number, job: Job): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = this.#isStopped ? null : setTimeout(() => this.#jobs.next(job), waitMs);
  }

  /** Begins anew from what the store holds, and proves that it can commit. */
  #recover(): void {
    if (this.#isStopped || this.#running !== null) return;
    this.#attempt(() => {
      const { core, clock } = this.#wishes;
      const store = this.#openStore();
      const restored = store.restore(this.#plan, core.restoreReachMs);
      const { checkpoints } = restored;
      this.#tickedAt = readEngineRecord(checkpoints)?.tick ?? 0;
      if (this.#isClockWrong()) return;
      const alarms = restored.alarms.map((alarm) => tellAlarm(this.#plan, alarm));
      const running = new Running(
        { core, store, clock, budget: this.#budget, vote: this.#vote, sinks: () => this.#sinks },
        this.#plan,
        restored,
      );
      const journal =
        this.#halted === null ? [] : journalHalt(this.#halted, clock.now(), this.#plan.revision);
      const told = running.commit({ ...NO_WORK, journal }, this.#isHeard);
      if (this.#halted !== null) alarms.push(tellHalt(this.#plan.site, this.#halted, true));
      this.#halted = null;
      this.#running = running;
      this.#retryMs = RETRY_LEAST_MS;
      this.#noteCommit(running);
      const clockOffsetMs = clock.offsetMs;
      const floodSince = (told?.flood ?? { since: running.floodSince }).since;
      const retained = readRetained(checkpoints);
      this.#wishes.post({ kind: 'ready', retained, alarms, clockOffsetMs, floodSince }, []);
      this.#tell(told);
      this.#schedule();
    });
  }

  async #answer(id: number, call: Call): Promise<void> {
    const { post } = this.#wishes;
    try {
      post({ kind: 'answer', id, fault: null, value: await runCall(call, this.#context()) }, []);
    } catch (error) {
      post({ kind: 'answer', id, fault: faultOf(error), value: null }, []);
    }
  }

  #context(): CallContext {
    const running = (): Running<S> => {
      if (this.#running === null)
        throw new NotReady('nothing can be stored at the moment: see why it is not ready');
      return this.#running;
    };
    const commit = (work: Work, watch?: (out: Outputs) => void): void => {
      const now = running();
      this.#attempt(() => {
        this.#tell(now.commit(work, this.#isHeard, watch));
        this.#noteCommit(now);
      });
      if (this.#running !== now)
        throw new NotReady('it could not be stored: see why the gateway is not ready');
    };
    return {
      now: () => this.#wishes.clock.now(),
      plan: () => this.#plan,
      commit: (facts, journal, watch) => commit({ ...NO_WORK, facts, journal }, watch),
      keep: (retained, journal, facts) => commit({ ...NO_WORK, retained, journal, facts }),
      changePlan: (plan) => {
        running().changePlan(plan);
        this.#plan = plan;
      },
      backup: (path) => this.#openStore().backup(path),
      trustClock: () => {
        if (this.#halted?.cause !== 'clock-wrong') throw new ClockNotInDoubt();
        this.#wishes.clock.goOnFrom(this.#tickedAt);
        this.#vote.trust(this.#wishes.clock.now());
        this.#recover();
      },
      stop: () => this.#stop(),
    };
  }

  #stop(): void {
    const running = this.#running;
    if (running !== null) this.#attempt(() => this.#tell(running.commit(NO_WORK, this.#isHeard)));
    this.#isStopped = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#running = null;
    this.#store?.close();
    this.#store = null;
  }
}
