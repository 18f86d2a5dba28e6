/** `background-high`: what counts as loud without own modulation, and that one burst is not enough. */
import { describe, expect, it } from 'vitest';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import { evaluateBackground } from '../../src/core/deviation/background-alarm.js';
import { newState } from '../../src/core/new-state.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const HOUR_MS = 3_600_000;
const START = Date.UTC(2026, 2, 2);
const QUARTER_MS = 15 * 60_000;

const alarm: DeviationAlarmPlan = {
  ...{ id: 'pump-1.de-background-high', motor: 'pump-1', alarm: 'de-background-high', sensor: 'pump-1/de' },
  ...{ kind: 'background-high', factor: 3, setpointPerMin: null, deadbandShare: 0.1 },
  ...{ onDelayMs: 0, offDelayMs: 0, windowMs: HOUR_MS, latching: false, priority: 'low' },
  ...{ action: 'Find what it hears.', consequence: 'Less to say.', falseAlarmsPerMonth: 0.001 },
  ...{ class: 'condition', timeToRespondMs: null, rationale: '' },
};

/** A quarter of each hour stands still. Twelve quiet days, then an hour for each of `pulses`; active after which of them. */
function watch(pulses: readonly number[]): boolean[] {
  const state = newState(
    makePlan([motorPlan('pump-1')], [sensorPlan('pump-1', 'de')], { deviationAlarms: [alarm] }),
  );
  const sensor = state.sensors.get('pump-1/de')!;
  const hours = [...Array<number>(12 * 24).fill(1), ...pulses];
  const active = hours.map((counted, i) => {
    evaluateBackground(state, sensor, alarm, { hour: START + i * HOUR_MS, pulses: counted, ms: QUARTER_MS });
    return state.alarms.get(alarm.id)?.active === true;
  });
  return active.slice(12 * 24);
}

describe('background-high', () => {
  it('one burst within a quarter of an hour raises nothing, though it fills the sum of four hours', () => {
    expect(watch([300, 1, 1, 1, 1, 1])).toEqual([false, false, false, false, false, false]);
  });

  it('a second loud hour raises', () => {
    expect(watch([300, 1, 300, 1])).toEqual([false, false, true, true]);
    expect(watch([150, 150])).toEqual([false, true]);
  });

  it('a second burst when the first has left the sum begins anew', () => {
    expect(watch([300, 1, 1, 1, 1, 1, 1, 300])).toEqual(Array(8).fill(false));
  });
});
