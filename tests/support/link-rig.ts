/**
 * One alarm whose condition a test holds in its hand, through the core's front door: `run-state-lost` without delays stands
 * while nobody reports the drive. With the store in memory, restarts, outages, and a configuration that may forget it.
 */
import type { AlarmRefusal } from '../../src/core/alarm-refusals.js';
import type { AlarmRecord } from '../../src/core/alarm-rows.js';
import type { AlarmAct, Fact } from '../../src/core/facts.js';
import type { ConditionAlarmPlan, Plan } from '../../src/core/plan.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { operate } from './acts.js';
import { MemoryStore, reopen, runBatch } from './memory-store.js';
import { makePlan, motorPlan, sensorPlan } from './plans.js';

const T0 = 1_700_000_040_000;
const MIN_MS = 60_000;
/** Conditions are looked at so often. */
export const LOOK_MS = 10_000;

/** The alarm that the condition is of. */
export const LOST = 'pump.drive-run-state-lost';

function conditionAlarm(change: Partial<ConditionAlarmPlan>): ConditionAlarmPlan {
  return {
    ...{ id: LOST, motor: 'pump', alarm: 'drive-run-state-lost', sensor: null, kind: 'run-state-lost' },
    ...{ onDelayMs: 0, offDelayMs: 0, latching: false, priority: 'low', consequence: 'c', action: 'a' },
    ...{ class: 'condition', timeToRespondMs: null, rationale: 'r' },
    ...change,
  };
}

export class LinkRig {
  readonly store = new MemoryStore();
  now = T0;
  #plan: Plan;
  readonly #whole: Plan;
  readonly #without: Plan;
  #core: CoreState;

  constructor(latching: boolean) {
    const silent = (position: string): ConditionAlarmPlan =>
      conditionAlarm({
        ...{ id: `pump.${position}-no-readings`, alarm: `${position}-no-readings`, kind: 'no-readings' },
        ...{ sensor: `pump/${position}`, onDelayMs: 86_400_000 * 30 },
      });
    const others = [silent('de'), silent('nde')];
    const sensors = [sensorPlan('pump', 'de'), sensorPlan('pump', 'nde')];
    this.#without = makePlan([motorPlan('pump')], sensors, { revision: 'without', conditionAlarms: others });
    const conditionAlarms = [conditionAlarm({ latching }), ...others];
    this.#whole = { ...this.#without, revision: 'whole', conditionAlarms };
    this.#plan = this.#whole;
    this.#core = openState(this.#plan, null);
    this.#report();
    this.#tick(LOOK_MS);
  }

  /** As the store has it. */
  get record(): AlarmRecord {
    return this.store.alarms.get(LOST)!;
  }

  get state(): string {
    return this.store.alarms.get(LOST)?.state ?? 'normal';
  }

  restart(): void {
    this.#core = reopen(this.#plan, this.store);
  }

  /** The gateway is down for so long. */
  sleep(ms: number): void {
    this.now += ms;
    this.restart();
  }

  /**
   * `lose`, `regain`, `wait MIN`, `drop-alarm`, `name-alarm` (the configuration), `restart`, or an act: `shelve MIN`,
   * `shelve-once MIN`, `out-of-service`, `return` and the acts of the table. Returns why an act was refused; null: it was not.
   */
  play(line: string, alarm = LOST): AlarmRefusal | null {
    const [verb = '', amount = '0'] = line.split(/\s+/);
    const ms = Number(amount) * MIN_MS;
    switch (verb) {
      case 'lose':
        this.#put({ kind: 'drive-presence', motor: 'pump', online: false, receivedAt: this.now });
        break;
      case 'regain':
        this.#report();
        break;
      case 'wait':
        break;
      case 'restart':
        this.restart();
        break;
      case 'drop-alarm':
      case 'name-alarm':
        this.#plan = verb === 'drop-alarm' ? this.#without : this.#whole;
        this.restart();
        break;
      default:
        return this.#act(verb, ms, alarm);
    }
    this.#tick(verb === 'wait' ? Math.max(ms, LOOK_MS) : LOOK_MS);
    return null;
  }

  #act(verb: string, ms: number, alarm: string): AlarmRefusal | null {
    let refusal: AlarmRefusal | null = null;
    runBatch(this.#plan, this.#core, this.store, [operate(alarm, this.#toAct(verb, ms), this.now)], (out) => {
      refusal = out.answers[0]?.refusal ?? null;
    });
    return refusal;
  }

  #toAct(verb: string, ms: number): AlarmAct {
    switch (verb) {
      case 'shelve':
      case 'shelve-once':
        return { do: 'shelve', until: this.now + ms, once: verb === 'shelve-once' };
      case 'out-of-service':
        return { do: 'take-out-of-service' };
      case 'return':
        return { do: 'return-to-service' };
      case 'acknowledge':
      case 'confirm':
      case 'reset':
      case 'unshelve':
        return { do: verb };
      default:
        throw new Error(`nobody can "${verb}"`);
    }
  }

  /** Somebody reports the drive: it runs. */
  #report(): void {
    const at = this.now;
    const unknown = { speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null };
    this.#put(
      { kind: 'drive-presence', motor: 'pump', online: true, receivedAt: at },
      {
        kind: 'drive',
        motor: 'pump',
        state: 'running',
        modulating: true,
        at,
        since: at,
        ...unknown,
        receivedAt: at,
      },
    );
  }

  /** Time goes on in steps that miss no look. */
  #tick(ms: number): void {
    const end = this.now + ms;
    while (this.now < end) {
      this.now = Math.min(end, this.now + LOOK_MS);
      this.#put({ kind: 'tick', now: this.now });
    }
  }

  #put(...facts: Fact[]): void {
    runBatch(this.#plan, this.#core, this.store, facts);
  }
}
