/** Suppressed by design: a motor in commissioning, an alarm that the configuration no longer names. */
import { describe, expect, it } from 'vitest';
import { transition } from '../../src/core/alarm.js';
import { emptyStep } from '../../src/core/new-state.js';
import type { DeviationAlarmPlan, MotorPlan, Plan } from '../../src/core/plan.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { INPUTS } from '../support/alarm-states.js';
import { operate } from '../support/acts.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, rateAlarm, sensorPlan } from '../support/plans.js';

const NOW = 1_700_000_040_000;
const HOUR_MS = 3_600_000;
const RISING = 'pump.de-rising';
const RATE = 'pump.de-rate-high';
const IN_COMMISSIONING = 'its motor is in commissioning';

function rising(motor: string): DeviationAlarmPlan {
  return {
    ...{
      id: `${motor}.de-rising`,
      motor,
      alarm: 'de-rising',
      sensor: `${motor}/de`,
      kind: 'rising',
      factor: 1.3,
    },
    ...{ setpointPerMin: null, deadbandShare: 0.1, onDelayMs: 0, offDelayMs: 0, windowMs: HOUR_MS },
    ...{ falseAlarmsPerMonth: 0.01, latching: false, priority: 'low', consequence: 'c', action: 'a' },
    ...{ class: 'condition', timeToRespondMs: null, rationale: 'r' },
  };
}

function planOf(change: Partial<MotorPlan>, deviationAlarms = [rising('pump'), rising('fan')]): Plan {
  const motors = [motorPlan('pump', change), motorPlan('fan')];
  const sensors = [sensorPlan('pump', 'de'), sensorPlan('fan', 'de')];
  return makePlan(motors, sensors, { rateAlarms: [rateAlarm('pump/de', 300)], deviationAlarms });
}

const plain = planOf({});
const setUp = planOf({ commissioning: { until: null } });

function raise(state: CoreState, store: MemoryStore, id: string): void {
  emptyStep(state);
  transition(
    state,
    state.alarms.get(id)!,
    INPUTS.find(({ kind }) => kind === 'raise')!,
  );
  store.apply(state.out);
}

const states = (store: MemoryStore): string[] =>
  [...store.alarms.values()].map(({ id, state }) => `${id} ${state}`).sort();
const changes = (store: MemoryStore): unknown[] =>
  store.journal.map(({ subject, what, text, annunciated, who }) => [subject, what, text, annunciated, who]);

describe('a motor in commissioning', () => {
  it('has its deviation alarms suppressed from the first tick on, no others, once', () => {
    const store = new MemoryStore();
    let state = openState(setUp, null);
    for (let i = 0; i < 30; i++) {
      runBatch(setUp, state, store, [{ kind: 'tick', now: NOW + i * 1000 }]);
      if (i % 7 === 0) state = reopen(setUp, store);
    }
    expect(states(store)).toEqual([`${RISING} suppressed-by-design`]);
    expect(store.alarms.get(RISING)?.suppressedBy).toBe(IN_COMMISSIONING);
    expect(changes(store)).toEqual([[RISING, 'suppressed', IN_COMMISSIONING, false, '']]);
  });

  it('tells with the next configuration what stands then', () => {
    const store = new MemoryStore();
    let state = openState(setUp, null);
    runBatch(setUp, state, store, [{ kind: 'tick', now: NOW }]);
    raise(state, store, RISING);
    expect(store.journal.at(-1)).toMatchObject({ what: 'raised', annunciated: false });
    state = reopen(plain, store);
    runBatch(plain, state, store, [{ kind: 'tick', now: NOW + 1000 }]);
    expect(states(store)).toEqual([`${RISING} unacknowledged`]);
    expect(store.journal.at(-1)).toMatchObject({ what: 'unsuppressed', annunciated: true, kind: 'alarm' });
    expect(store.journal.at(-1)?.text).toBe(
      'no longer suppressed by design; raised meanwhile, it still stands: too many',
    );
  });

  it('ends at its time, or at the first tick after an outage', () => {
    const until = NOW + HOUR_MS;
    const plan = planOf({ commissioning: { until } });
    for (const back of [until, until + 5 * HOUR_MS]) {
      const store = new MemoryStore();
      let state = openState(plan, null);
      runBatch(plan, state, store, [{ kind: 'tick', now: NOW }]);
      runBatch(plan, state, store, [{ kind: 'tick', now: until - 1 }]);
      expect(states(store)).toEqual([`${RISING} suppressed-by-design`]);
      if (back > until) state = reopen(plan, store);
      runBatch(plan, state, store, [{ kind: 'tick', now: back }]);
      expect(states(store)).toEqual([`${RISING} normal`]);
      expect(changes(store)).toHaveLength(2);
    }
  });

  it('lies under a shelf, and the shelf over it', () => {
    const store = new MemoryStore();
    const state = openState(setUp, null);
    runBatch(setUp, state, store, [{ kind: 'tick', now: NOW }]);
    runBatch(setUp, state, store, [operate(RISING, { do: 'shelve', until: NOW + 60_000, once: false }, NOW)]);
    expect(states(store)).toEqual([`${RISING} shelved`]);
    runBatch(setUp, state, store, [{ kind: 'tick', now: NOW + 60_000 }]);
    expect(states(store)).toEqual([`${RISING} suppressed-by-design`]);
  });
});

describe('an alarm that the configuration no longer names', () => {
  it('is suppressed with that reason, and only where it has a record', () => {
    const store = new MemoryStore();
    let state = openState(setUp, null);
    runBatch(setUp, state, store, [{ kind: 'tick', now: NOW }]);
    const without = planOf({}, []);
    state = reopen(without, store);
    runBatch(without, state, store, [{ kind: 'tick', now: NOW + 1000 }]);
    expect(store.alarms.get(RISING)?.suppressedBy).toBe('the configuration no longer names it');
    expect(store.alarms.has(RATE)).toBe(false);
    state = reopen(plain, store);
    runBatch(plain, state, store, [{ kind: 'tick', now: NOW + 2000 }]);
    expect(states(store)).toEqual([`${RISING} normal`]);
  });

  it('of a kind that no configuration names is left alone', () => {
    const store = new MemoryStore();
    let state = openState(plain, null);
    const id = 'zone-hall.zone-silent';
    runBatch(plain, state, store, [operate(RISING, { do: 'take-out-of-service' }, NOW)]);
    store.alarms.set(id, { ...store.alarms.get(RISING)!, id, kind: 'zone-silent', motor: 'site' });
    state = reopen(plain, store);
    runBatch(plain, state, store, [{ kind: 'tick', now: NOW + 1000 }]);
    expect(store.alarms.get(id)?.suppressedBy).toBeNull();
  });
});

it('a record follows the priority that the configuration gives it', () => {
  const store = new MemoryStore();
  let state = openState(plain, null);
  runBatch(plain, state, store, [operate(RISING, { do: 'take-out-of-service' }, NOW)]);
  const urgent = planOf({}, [{ ...rising('pump'), priority: 'high' }]);
  state = reopen(urgent, store);
  runBatch(urgent, state, store, [{ kind: 'tick', now: NOW + 1000 }]);
  expect(store.alarms.get(RISING)).toMatchObject({ priority: 'high', state: 'out-of-service' });
  expect(store.journal).toHaveLength(1);
});
