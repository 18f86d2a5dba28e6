/**
 * The engine while it can commit: the core's state, who reports what, and the way from work to one transaction. It is made
 * from what the store holds and thrown away whole when anything fails.
 */
import { ALARMING_KEY, parseAlarming } from '../core/alarming.js';
import type { Fact, SinkStanding } from '../core/facts.js';
import type { Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type { JournalEntry } from '../core/alarm-rows.js';
import type { CheckpointRow, Outputs } from '../core/rows.js';
import { BatchDecoder, type DecodedBatch } from './batch-decoder.js';
import type { Clock } from './clock.js';
import type { ClockVote } from './clock-vote.js';
import type { EngineCore } from './engine-core.js';
import { engineRow, readEngineRecord } from './engine-record.js';
import type { EngineStore } from './engine-store.js';
import { Presence } from './presence.js';
import type { FrameBatch, Told } from './protocol.js';
import type { QuarantineBudget, Rejection } from './quarantine.js';
import { RateRecorder } from './rate-recorder.js';
import { ToldCollector } from './told.js';
import { commitBatch } from './transaction.js';

export const TICK_MS = 1_000;

/** What goes into one transaction, besides a due tick. */
export interface Work {
  readonly facts: readonly Fact[];
  readonly rejections: readonly Rejection[];
  readonly retained: readonly CheckpointRow[];
  readonly journal: readonly JournalEntry[];
}

export const NO_WORK: Work = { facts: [], rejections: [], retained: [], journal: [] };

export interface RunningParts<S> {
  readonly core: EngineCore<S>;
  readonly store: EngineStore;
  readonly clock: Clock;
  readonly budget: QuarantineBudget;
  readonly vote: ClockVote;
  /** how the sinks stand by now; none: nothing is forwarded, or nobody has told yet */
  sinks(this: void): readonly SinkStanding[];
}

export class Running<S> {
  /** ms; 0: never */
  tickedAt: number;
  plan: Plan;
  /** as the store had it */
  readonly floodSince: number | null;
  readonly #parts: RunningParts<S>;
  readonly #presence = new Presence();
  readonly #decoder: BatchDecoder;
  readonly #rates = new RateRecorder();
  #state: S;
  /** facts that go before those of the first batch */
  #first: readonly Fact[];

  constructor(parts: RunningParts<S>, plan: Plan, restored: Restored) {
    const record = readEngineRecord(restored.checkpoints);
    this.plan = plan;
    this.tickedAt = record?.tick ?? 0;
    this.#parts = parts;
    const alarming = restored.checkpoints.find(({ key }) => key === ALARMING_KEY);
    this.floodSince = parseAlarming(alarming?.json).floodSince;
    this.#first = this.#presence.restore(restored, record?.presence ?? null, this.tickedAt);
    this.#decoder = new BatchDecoder(plan, this.#presence, parts.budget, parts.vote);
    this.#state = parts.core.open(plan, restored);
  }

  /** Null: it was meant for the engine before this one, and nobody waits for it any more. */
  decode(batch: FrameBatch): DecodedBatch | null {
    if (!this.#decoder.knowsNames(batch)) return null;
    this.#decoder.learnNames(batch);
    return this.#decoder.decode(batch);
  }

  isTickDue(): boolean {
    return this.#parts.clock.now() >= this.tickedAt + TICK_MS;
  }

  /**
   * One transaction; a due tick goes along behind the facts. Null: nothing to tell. `isHeard`: whether anybody listens to
   * what is told. Throws when it fails, and nothing of this object may be used then.
   */
  commit(work: Work, isHeard: boolean, watch?: (out: Outputs) => void): Told | null {
    const { core, store, clock, sinks } = this.#parts;
    const now = clock.now();
    const tick = this.isTickDue() ? now - (now % TICK_MS) : null;
    const facts = [...this.#first, ...work.facts];
    const checkpoints = [...work.retained];
    if (tick !== null) {
      facts.push({ kind: 'tick', now: tick });
      if (sinks().length > 0) facts.push({ kind: 'forwarding', sinks: sinks() });
    }
    if (tick !== null || this.#presence.isChanged) {
      checkpoints.push(engineRow({ tick: tick ?? this.tickedAt, presence: this.#presence.record() }));
    }
    const { rejections, journal } = work;
    const told = new ToldCollector(this.plan, isHeard);
    const before = (out: Outputs): void => {
      told.add(out);
      watch?.(out);
      if (out.rates.length > 0) out.checkpoints.push(...this.#rates.rowsFor(this.plan.site, out.rates));
    };
    const batch = { facts, rejections, checkpoints, journal, now };
    commitBatch(
      core,
      store,
      this.plan,
      this.#state,
      batch,
      before,
      isHeard ? (rollups) => told.addRollups(rollups) : null,
      (from) => told.numberJournal(from),
    );
    this.#first = [];
    if (tick !== null) this.tickedAt = tick;
    return told.finish(tick);
  }

  /** Another plan from here on. When it throws, the old one is still in force. */
  changePlan(plan: Plan): void {
    const { core, store } = this.#parts;
    this.#state = core.open(plan, store.restore(plan, core.restoreReachMs));
    this.#decoder.setPlan(plan);
    this.plan = plan;
  }
}
