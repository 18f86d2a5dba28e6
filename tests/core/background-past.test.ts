/** What a sensor counts while its motor stands: what was alarmed on is no measure for what is usual. */
import { expect, it } from 'vitest';
import { evaluateBackground } from '../../src/core/deviation/background-alarm.js';
import { backgroundSetpoint } from '../../src/core/deviation/background.js';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const HOUR_MS = 3_600_000;
const START = Date.UTC(2026, 0, 5);
const HIGH: DeviationAlarmPlan = {
  ...{ id: 'mill.de-background-high', motor: 'mill', alarm: 'de-background-high', sensor: 'mill/de' },
  ...{ kind: 'background-high', factor: 2, setpointPerMin: null, deadbandShare: 0.2, windowMs: HOUR_MS },
  ...{ onDelayMs: 0, offDelayMs: 0, falseAlarmsPerMonth: 0.001, latching: false, priority: 'low' },
  ...{ consequence: '', action: '', class: 'condition', timeToRespondMs: null, rationale: '' },
};

it('the hours of an alarm do not become part of the past after its return', () => {
  const plan = makePlan([motorPlan('mill')], [sensorPlan('mill', 'de')], { deviationAlarms: [HIGH] });
  const state = openState(plan, null);
  const sensor = state.sensors.get('mill/de')!;
  let hour = START;
  const stand = (hours: number, perHour: number): void => {
    for (let i = 0; i < hours; i++, hour += HOUR_MS)
      evaluateBackground(state, sensor, HIGH, { hour, pulses: perHour, ms: HOUR_MS });
  };
  const setpoint = (): number => backgroundSetpoint(sensor.watch.past, HIGH.factor, 1)!.perMin;
  stand(72, 120);
  const before = setpoint();
  stand(6, 12_000);
  stand(72, 120);
  expect(state.out.journal.map(({ to }) => to)).toEqual(['unacknowledged', 'returned-unacknowledged']);
  expect(setpoint()).toBeGreaterThan(0.9 * before);
  expect(setpoint()).toBeLessThan(1.1 * before);
  // and the same rise again is an alarm again
  stand(6, 12_000);
  expect(state.alarms.get(HIGH.id)!.active).toBe(true);
});
