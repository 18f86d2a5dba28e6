/** What deviation alarms remember: it holds what the rollups hold, whatever came late, and a restart takes nothing of it. */
import { expect, it } from 'vitest';
import { newAlarm } from '../../src/core/alarm.js';
import type { Fact } from '../../src/core/facts.js';
import type { DeviationAlarmPlan, Plan } from '../../src/core/plan.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { Class } from '../../src/core/words.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const MINUTE_MS = 60_000;
const START = Date.UTC(2026, 0, 5);
const MOTORS = ['mill-1', 'mill-2', 'mill-3', 'mill-4'];

function alarmPlan(
  sensor: string,
  kind: DeviationAlarmPlan['kind'],
  change: Partial<DeviationAlarmPlan> = {},
): DeviationAlarmPlan {
  const [motor, position] = sensor.split('/') as [string, string];
  return {
    ...{ id: `${motor}.${position}-${kind}`, motor, alarm: `${position}-${kind}`, sensor, kind },
    ...{ factor: 2, setpointPerMin: null, deadbandShare: 0.2, onDelayMs: 0, offDelayMs: 0 },
    ...{ windowMs: HOUR_MS, falseAlarmsPerMonth: 0.001, latching: false, priority: 'low' },
    ...{ consequence: '', action: '', class: 'condition', timeToRespondMs: null, rationale: '' },
    ...change,
  };
}

/** Motors without a run-state signal, so that all that is counted is running. */
function millPlan(
  positions: readonly string[],
  alarms: readonly DeviationAlarmPlan[],
  hasRunState = false,
): Plan {
  return makePlan(
    MOTORS.map((key) => motorPlan(key, { hasRunState, dutyGroup: 'mills', zone: key })),
    MOTORS.flatMap((key) =>
      positions.map((position) =>
        sensorPlan(key, position, { intervalMs: MINUTE_MS, reorderWaitMs: 65_000 }),
      ),
    ),
    { deviationAlarms: alarms },
  );
}

function tick(now: number): Fact {
  return { kind: 'tick', now };
}

function reading(
  sensor: string,
  minute: number,
  perMin: number,
  receivedAt = START + minute * MINUTE_MS,
): Fact {
  const at = START + minute * MINUTE_MS;
  return {
    ...{ kind: 'reading', sensor, device: 'SN', count: perMin * minute, at, seq: minute, boot: 1 },
    ...{ upMs: null, temperatureC: null, check: false, receivedAt },
  };
}

/** What the sensor's days hold. */
function daysOf(state: CoreState, sensor: string): { pulses: number; ms: number } {
  const sum = { pulses: 0, ms: 0 };
  for (const { cells } of state.sensors.get(sensor)!.watch.days) {
    for (const cell of cells.values()) {
      sum.pulses += cell.pulses;
      sum.ms += cell.ms;
    }
  }
  return sum;
}

/** Running sums of the hours that are over. */
function hoursOf(store: MemoryStore, sensor: string): { pulses: number; ms: number } {
  const sum = { pulses: 0, ms: 0 };
  for (const row of store.rollups.values()) {
    if (row.sensor !== sensor || row.period !== '1h') continue;
    sum.pulses += row.pulses[Class.running]!;
    sum.ms += row.ms[Class.running]!;
  }
  return sum;
}

it('hours that a sensor sends after they are over are learnt from, once, with and without restarts', () => {
  const plan = millPlan(['de'], []);
  for (const restarts of [false, true]) {
    const store = new MemoryStore();
    let state = openState(plan, null);
    let batches = 0;
    const put = (...facts: Fact[]): void => {
      runBatch(plan, state, store, facts);
      batches += 1;
      // less often than a look at the past waits
      if (restarts && batches % 3 === 0) state = reopen(plan, store);
    };
    for (let minute = 1; minute <= 60; minute++)
      put(tick(START + minute * MINUTE_MS), reading('mill-1/de', minute, 5));
    // it is not connected for two hours and a half, and then sends what it kept
    for (let minute = 61; minute <= 210; minute++) put(tick(START + minute * MINUTE_MS));
    const late = START + 210 * MINUTE_MS + 1000;
    put(...Array.from({ length: 150 }, (_, i) => reading('mill-1/de', 61 + i, 5, late)));
    for (let minute = 211; minute <= 310; minute++)
      put(tick(START + minute * MINUTE_MS), reading('mill-1/de', minute, 5));
    expect(hoursOf(store, 'mill-1/de').ms).toBeGreaterThan(4.9 * HOUR_MS);
    expect(daysOf(state, 'mill-1/de')).toEqual(hoursOf(store, 'mill-1/de'));
  }
});

it('a late reading that splits an increment just before its hour closes is counted once', () => {
  const plan = millPlan(['de'], []);
  for (const restarts of [false, true]) {
    const store = new MemoryStore();
    let state = openState(plan, null);
    const end = START + 60 * MINUTE_MS;
    const pass = (from: number, to: number): void => {
      for (let at = from; at < to; at += 5000) runBatch(plan, state, store, [tick(at)]);
    };
    for (let minute = 1; minute <= 150; minute++) {
      const at = START + minute * MINUTE_MS;
      runBatch(plan, state, store, [tick(at), ...(minute === 50 ? [] : [reading('mill-1/de', minute, 5)])]);
      pass(at + 5000, at + MINUTE_MS);
      // the hour closes 65 s after its end; the look at the split increment waits as long
      if (minute === 60)
        runBatch(plan, state, store, [tick(end + 59_000), reading('mill-1/de', 50, 5, end + 59_000)]);
      if (restarts && minute === 61) state = reopen(plan, store);
    }
    expect(store.diagnostics.get('late')).toBe(1);
    expect(hoursOf(store, 'mill-1/de')).toEqual({ pulses: 119 * 5, ms: 119 * MINUTE_MS });
    expect(daysOf(state, 'mill-1/de')).toEqual(hoursOf(store, 'mill-1/de'));
  }
});

const TEN_MIN_MS = 600_000;

/** Ten minutes after ten minutes, in which every sensor sends a reading; `perHour`: pulses of a sensor. */
function runMills(
  plan: Plan,
  days: number,
  perHour: (sensor: string) => number,
  opened: (at: number, state: CoreState, store: MemoryStore) => CoreState,
): MemoryStore {
  const store = new MemoryStore();
  let state = openState(plan, null);
  for (let i = 0; i <= days * 144; i++) {
    const at = START + i * TEN_MIN_MS;
    const readings = [...plan.sensors.keys()].map((sensor): Fact => ({
      ...{ kind: 'reading', sensor, device: 'SN', count: Math.round((perHour(sensor) * i) / 6), at },
      ...{ seq: i, boot: 1, upMs: null, temperatureC: null, check: false, receivedAt: at },
    }));
    runBatch(plan, state, store, [tick(at), ...readings]);
    state = opened(at, state, store);
  }
  return store;
}

function slowPlan(positions: readonly string[], alarms: readonly DeviationAlarmPlan[]): Plan {
  const plan = millPlan(positions, alarms);
  const slow = { intervalMs: TEN_MIN_MS, reorderWaitMs: TEN_MIN_MS + 5000 };
  const sensors = [...plan.sensors].map(([key, sensor]) => [key, { ...sensor, ...slow }] as const);
  return { ...plan, sensors: new Map(sensors) };
}

it('two looks that find a motor odd are two looks, whatever restart lies between', () => {
  const plan = slowPlan(
    ['de'],
    MOTORS.map((motor) => alarmPlan(`${motor}/de`, 'above-peers')),
  );
  const raisedIn = (restarts: boolean): unknown[] => {
    const store = runMills(
      plan,
      4,
      (sensor) => (sensor === 'mill-2/de' ? 6000 : 600),
      // in the step that looked, before the next hour is over
      (at, state, kept) => (restarts && (at - START) % DAY_MS === HOUR_MS ? reopen(plan, kept) : state),
    );
    return store.journal
      .filter(({ kind }) => kind === 'alarm')
      .map(({ at, subject, to }) => [at, subject, to]);
  };
  const raised = [[START + 2 * DAY_MS, 'mill-2.de-above-peers', 'unacknowledged']];
  expect(raisedIn(false)).toEqual(raised);
  expect(raisedIn(true)).toEqual(raised);
});

it('a group that falls into two halves at one end is told once, whatever the other end does', () => {
  const plan = slowPlan(['de', 'nde'], []);
  const store = runMills(
    plan,
    6,
    (sensor) => (sensor === 'mill-1/de' || sensor === 'mill-2/de' ? 6000 : 600),
    (_at, state) => state,
  );
  expect(store.journal.filter(({ to }) => to === 'peers-torn')).toHaveLength(1);
});

it('two hours on end of high background are two hours, whatever restart lies between', () => {
  const settings = { windowMs: 1_800_000, setpointPerMin: 5 };
  const alarms = [alarmPlan('mill-1/de', 'background-high', settings)];
  const stood = { ...slowPlan(['de'], alarms), motors: new Map([['mill-1', motorPlan('mill-1')]]) };
  const plan = { ...stood, sensors: new Map([...stood.sensors].filter(([key]) => key === 'mill-1/de')) };
  const raisedIn = (restarts: boolean): unknown[] => {
    const store = new MemoryStore();
    let state = openState(plan, null);
    let count = 0;
    for (let i = 0; i <= 42; i++) {
      const at = START + i * TEN_MIN_MS;
      const stopped: Fact = {
        ...{ kind: 'drive', motor: 'mill-1', state: 'stopped', modulating: false, at, since: START },
        ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt: at },
      };
      count += i > 18 ? 500 : 0;
      runBatch(plan, state, store, [tick(at), stopped, countAt(at, i, count)]);
      if (restarts) state = reopen(plan, store);
    }
    return store.journal.filter(({ what }) => what === 'raised').map(({ at, to }) => [at, to]);
  };
  const raised = [[START + 5 * HOUR_MS, 'unacknowledged']];
  expect(raisedIn(false)).toEqual(raised);
  expect(raisedIn(true)).toEqual(raised);
});

function countAt(at: number, seq: number, count: number): Fact {
  return {
    ...{ kind: 'reading', sensor: 'mill-1/de', device: 'SN', count, at, seq, boot: 1, upMs: null },
    ...{ temperatureC: null, check: false, receivedAt: at },
  };
}

it('work on a motor sets the timers of its deviation alarms back for good', () => {
  const plan = millPlan(['de'], [alarmPlan('mill-1/de', 'above-baseline')]);
  const store = new MemoryStore();
  let state = openState(plan, null);
  const record = newAlarm(plan.deviationAlarms[0]!);
  store.alarms.set(record.id, { ...record, onMs: 240_000, returnFrom: START });
  state = reopen(plan, store);
  const action: Fact = {
    ...{ kind: 'action', motor: 'mill-1', action: 'regreased', end: 'de', bearing: null, breaks: 'motor' },
    ...{ at: START + HOUR_MS, by: 'J. Field', note: '', says: '', receivedAt: START + HOUR_MS },
  };
  runBatch(plan, state, store, [action]);
  state = reopen(plan, store);
  expect(state.alarms.get(record.id)).toMatchObject({ onMs: 0, returnFrom: null });
});
