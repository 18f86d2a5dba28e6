/**
 * What a value is told as: number, quality by age, source time. Pure.
 * Source: OPC 10000-4 clause 7.39 for the status codes and what clients do with them; which of them when is our choice.
 */
import type { AlarmStateName } from '../../shared/alarm-terms.js';
import { numberState, stateOf, summariseAlarms } from './alarm-rank.js';
import type { Picture, SensorView } from './picture.js';
import type { PlantMotor, PlantSensor } from './plant.js';
import { RUN_STATE_NUMBERS } from './register-fields.js';
import { SENSOR_HEALTHS } from './sensor-health.js';

export type StatusName =
  | 'Good'
  | 'UncertainSubNormal'
  | 'UncertainLastUsableValue'
  | 'BadWaitingForInitialData'
  | 'BadOutOfService'
  | 'BadNoCommunication';

/**
 * `value` null: there is none to use, and `status` is bad. `at`: event time in ms, of a status that came by age the moment at
 * which it did; null: there was no event, or nobody knows when it was.
 */
export interface ToldValue {
  readonly value: number | null;
  readonly status: StatusName;
  readonly at: number | null;
  /** `at` is when the value became this: a later one of an equal value says nothing */
  readonly isOfChange?: boolean;
}

/** States that an alarm comes into by itself, at the time that its record tells. */
const UNTOUCHED: readonly AlarmStateName[] = [
  'unacknowledged',
  'latched-unacknowledged',
  'returned-unacknowledged',
];

/** `pick`: the rate or one of its limits. */
export function tellRate(
  view: SensorView,
  sensor: PlantSensor,
  pick: (view: SensorView) => number | null,
  now: number,
): ToldValue {
  const { standing, at, heardAt } = view;
  const value = pick(view);
  if (at === null || standing === 'unknown' || (value === null && standing !== 'stale'))
    return { value: null, status: 'BadWaitingForInitialData', at: null };
  if (standing === 'stale') {
    // the sensor speaks and its motor does not run: there is nothing wrong, and no rate either
    const isHeard = heardAt !== null && now - heardAt <= sensor.staleMs;
    if (isHeard) return { value: null, status: 'BadOutOfService', at: at + sensor.staleMs };
    return { value: null, status: 'BadNoCommunication', at: Math.max(at, heardAt ?? at) + sensor.staleMs };
  }
  const { goodMs } = sensor;
  if (now - at > goodMs) return { value, status: 'UncertainLastUsableValue', at: at + goodMs };
  return { value, status: standing === 'good' ? 'Good' : 'UncertainSubNormal', at };
}

export function tellHealth(
  { health, heardAt }: SensorView,
  { staleMs }: PlantSensor,
  now: number,
): ToldValue {
  if (health !== null) return { value: SENSOR_HEALTHS[health], status: 'Good', at: heardAt };
  const isOld = heardAt !== null && now - heardAt > staleMs;
  return { value: null, status: 'BadNoCommunication', at: isOld ? heardAt + staleMs : null };
}

export function tellRunState(picture: Picture, motor: PlantMotor, now: number): ToldValue {
  const { state, at, lostAt } = picture.viewDrive(motor, now);
  if (state === null) {
    const status = at === null ? 'BadWaitingForInitialData' : 'BadNoCommunication';
    return { value: null, status, at: lostAt };
  }
  return { value: RUN_STATE_NUMBERS[state], status: state === 'assumed' ? 'UncertainSubNormal' : 'Good', at };
}

/** Number of the most urgent alarm's state, of a sensor or a motor. */
export function tellAlarmState(
  picture: Picture,
  of: { readonly sensor: string } | { readonly motor: string },
  now: number,
): ToldValue {
  if (!picture.isFed(now)) return { value: null, status: 'BadNoCommunication', at: null };
  const alarms = 'sensor' in of ? picture.alarmsOfSensor(of.sensor) : picture.alarmsOfMotor(of.motor);
  const { state } = summariseAlarms(alarms);
  // a raise and a return have a time of their own; that somebody acted changes the state without one
  const times = UNTOUCHED.includes(state)
    ? alarms.flatMap((alarm) => (stateOf(alarm) === state ? (alarm.news?.since ?? []) : []))
    : [];
  const at = times.length === 0 ? null : Math.min(...times);
  return { value: numberState(state), status: 'Good', at, isOfChange: true };
}
