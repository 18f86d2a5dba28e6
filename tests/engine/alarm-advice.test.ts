/** An operator reads with every alarm what it may come to and what to do, whatever kind of rule raised it. */
import { expect, it } from 'vitest';
import { toAlarmBody } from '../../src/api/body-maps.js';
import { newAlarm } from '../../src/core/alarm.js';
import type { ConditionAlarmPlan, DeviationAlarmPlan } from '../../src/core/plan.js';
import { tellAlarm } from '../../src/engine/told.js';
import { makePlan, motorPlan, rateAlarm, sensorPlan } from '../support/plans.js';

const SENSOR = 'mill-1/de';
const SILENT: ConditionAlarmPlan = {
  ...{ id: 'mill-1.de-no-readings', motor: 'mill-1', alarm: 'de-no-readings', sensor: SENSOR },
  ...{ kind: 'no-readings', onDelayMs: 0, offDelayMs: 0, latching: false, priority: 'low' },
  ...{ consequence: 'nothing is counted', action: 'look at the cable', rationale: 'no data is not normal' },
  ...{ class: 'instrument', timeToRespondMs: 3_600_000 },
};
const RISING: DeviationAlarmPlan = {
  ...{ id: 'mill-1.de-rising', motor: 'mill-1', alarm: 'de-rising', sensor: SENSOR, kind: 'rising' },
  ...{ factor: 1, setpointPerMin: null, deadbandShare: 0.2, onDelayMs: 0, offDelayMs: 0, windowMs: 0 },
  ...{ falseAlarmsPerMonth: 0.01, latching: false, priority: 'low' },
  ...{ consequence: 'craters in the raceway', action: 'look at the earthing', rationale: 'its own past' },
  ...{ class: 'condition', timeToRespondMs: null },
};
const plan = makePlan([motorPlan('mill-1')], [sensorPlan('mill-1', 'de')], {
  rateAlarms: [rateAlarm(SENSOR, 100)],
  conditionAlarms: [SILENT],
  deviationAlarms: [RISING],
});

it.each([...plan.rateAlarms, ...plan.conditionAlarms, ...plan.deviationAlarms])(
  '$kind says so over MQTT and over HTTP',
  (settings) => {
    const alarm = newAlarm(settings);
    const { consequence, action, rationale, timeToRespondMs } = settings;
    expect(action).not.toBe('');
    const said = {
      consequence,
      action,
      rationale,
      class: settings.class,
      time_to_respond_ms: timeToRespondMs,
    };
    expect(JSON.parse(tellAlarm(plan, alarm).payload)).toMatchObject(said);
    expect(toAlarmBody(alarm, plan)).toMatchObject(said);
  },
);
