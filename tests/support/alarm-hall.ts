/**
 * A hall of motors for stories about their alarms: every sensor reports each 10 s unless it is cut off, every drive that runs.
 * The store in memory stands for the real one, so that a story can be told through restarts.
 */
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import type { AlarmAct, DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';
import type { ConditionAlarmPlan, Plan } from '../../src/core/plan.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { operate } from './acts.js';
import { MemoryStore, reopen, runBatch } from './memory-store.js';
import { makePlan, motorPlan, sensorPlan } from './plans.js';

export const T0 = 1_700_000_040_000; // a full minute
export const STEP_MS = 10_000;

export const TEXTS = {
  ...{ consequence: '', action: '', rationale: '', class: 'instrument', timeToRespondMs: null },
} as const;

export function conditionAlarm(
  motor: string,
  position: string | null,
  change: Partial<ConditionAlarmPlan> = {},
): ConditionAlarmPlan {
  const kind = position === null ? 'run-state-lost' : 'no-readings';
  const alarm = `${position ?? 'drive'}-${kind}`;
  return {
    ...{
      id: `${motor}.${alarm}`,
      motor,
      alarm,
      sensor: position === null ? null : `${motor}/${position}`,
      kind,
    },
    ...{ onDelayMs: position === null ? 60_000 : 300_000, offDelayMs: 30_000, latching: false },
    ...{ priority: 'low', ...TEXTS },
    ...change,
  };
}

export interface HallWishes {
  readonly motors: readonly string[];
  readonly plan?: Partial<Plan>;
  readonly onDelayMs?: number;
  readonly heartbeatMs?: number | null;
  readonly intervalMs?: (motor: string) => number;
  readonly dutyGroup?: string;
}

export class Hall {
  plan: Plan;
  readonly store = new MemoryStore();
  state: CoreState;
  now = T0;
  /** sensors that send nothing */
  readonly silent = new Set<string>();
  /** motors whose drive nobody reports */
  readonly lost = new Set<string>();
  /** pulses of a sensor in 10 s; 1 where nothing is said */
  readonly pulses = new Map<string, number>();
  /** motors that stand */
  readonly standing = new Set<string>();
  /** sensors whose readings are kept back, to be sent later */
  readonly keptBack = new Map<string, ReadingFact[]>();
  /** all that it was given, in order */
  readonly facts: Fact[] = [];
  readonly #counts = new Map<string, { count: number; seq: number }>();

  constructor(readonly wishes: HallWishes) {
    const { motors, heartbeatMs = 20_000, intervalMs = () => STEP_MS } = wishes;
    const onDelay = (key: string) => ({
      onDelayMs: wishes.onDelayMs ?? Math.max(300_000, 3.15 * intervalMs(key)),
    });
    this.plan = makePlan(
      motors.map((key) => motorPlan(key, { heartbeatMs, dutyGroup: wishes.dutyGroup ?? '' })),
      motors.flatMap((key) =>
        ['de', 'nde'].map((position) => sensorPlan(key, position, { intervalMs: intervalMs(key) })),
      ),
      {
        conditionAlarms: motors.flatMap((key) => [
          conditionAlarm(key, 'de', onDelay(key)),
          conditionAlarm(key, 'nde', onDelay(key)),
          conditionAlarm(key, null),
        ]),
        ...wishes.plan,
      },
    );
    this.state = openState(this.plan, null);
  }

  drive(motor: string): DriveFact {
    const runs = !this.standing.has(motor);
    return {
      ...{ kind: 'drive', motor, state: runs ? 'running' : 'stopped', modulating: runs },
      ...{ at: this.now, since: null, speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null },
      receivedAt: this.now,
    };
  }

  #reading(sensor: string): ReadingFact {
    const held = this.#counts.get(sensor) ?? { count: 0, seq: 0 };
    const fact: ReadingFact = {
      ...{ kind: 'reading', sensor, device: 'SN-1', count: held.count, at: this.now, seq: held.seq, boot: 1 },
      ...{ upMs: null, temperatureC: null, check: false, receivedAt: this.now + 50 },
    };
    const motor = sensor.slice(0, sensor.indexOf('/'));
    const counted = this.standing.has(motor) ? 0 : (this.pulses.get(sensor) ?? 1);
    this.#counts.set(sensor, { count: held.count + counted, seq: held.seq + 1 });
    return fact;
  }

  /** The hall for so many seconds; `restarts`: the gateway starts anew after each step. */
  run(seconds: number, restarts = false): this {
    for (let i = 0; i < (seconds * 1000) / STEP_MS; i++) {
      this.now += STEP_MS;
      const facts: Fact[] = [{ kind: 'tick', now: this.now }];
      for (const motor of this.plan.motors.keys()) {
        if (!this.lost.has(motor) && this.now % 20_000 === 0) facts.push(this.drive(motor));
        for (const position of ['de', 'nde']) {
          const sensor = `${motor}/${position}`;
          const { intervalMs } = this.plan.sensors.get(sensor)!;
          if (this.silent.has(sensor) || this.now % intervalMs !== 0) continue;
          const reading = this.#reading(sensor);
          const kept = this.keptBack.get(sensor);
          if (kept === undefined) facts.push(reading);
          else kept.push(reading);
        }
      }
      this.#put(facts);
      if (restarts) this.restart(0);
    }
    return this;
  }

  #put(facts: readonly Fact[]): void {
    // a step may change what it is given
    this.facts.push(...structuredClone(facts));
    runBatch(this.plan, this.state, this.store, facts);
  }

  /** The gateway is down for so many seconds. */
  restart(downSeconds: number): this {
    this.now += downSeconds * 1000;
    this.state = reopen(this.plan, this.store);
    return this;
  }

  /** The gateway goes on with another configuration; motors that it leaves out send no more. */
  reconfigure(change: Partial<Plan>): this {
    this.plan = { ...this.plan, ...change };
    this.state = reopen(this.plan, this.store);
    return this;
  }

  /** What a sensor kept back arrives now. */
  sendKept(sensor: string): this {
    const kept = this.keptBack.get(sensor) ?? [];
    this.keptBack.delete(sensor);
    this.#put(kept.map((reading) => ({ ...reading, receivedAt: this.now + 60 })));
    return this;
  }

  acknowledge(alarm: string): this {
    return this.act(alarm, { do: 'acknowledge' });
  }

  act(alarm: string, act: AlarmAct): this {
    this.#put([operate(alarm, act, this.now)]);
    return this;
  }

  cut(sensors: Iterable<string>): this {
    for (const sensor of sensors) this.silent.add(sensor);
    return this;
  }

  mend(sensors: Iterable<string>): this {
    for (const sensor of sensors) this.silent.delete(sensor);
    return this;
  }

  get sensors(): string[] {
    return [...this.plan.sensors.keys()];
  }

  /** What the operator was told of, in order: the ids of raises, and of what was announced later. */
  told(): string[] {
    return this.entries()
      .filter(({ annunciated, what }) => annunciated && what !== 'returned')
      .map(({ subject }) => subject);
  }

  entries(): JournalEntry[] {
    return this.store.journal.filter(({ kind }) => kind === 'alarm');
  }

  active(): string[] {
    return [...this.store.alarms.values()].filter(({ active }) => active).map(({ id }) => id);
  }
}
