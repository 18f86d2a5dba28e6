/**
 * What a value is told as: number, quality by age, source time. Pure.
 * Source: OPC 10000-4 clause 7.39 for the status codes and what clients do with them; which of them when is our choice.
 */
import { numberState, summariseAlarms } from './alarm-rank.js';
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

/** `value` null: there is none to use, and `status` is bad. `at`: event time in ms; null: there was no event. */
export interface ToldValue {
  readonly value: number | null;
  readonly status: StatusName;
  readonly at: number | null;
}

/** The share of the age limit from which a value counts as the last usable one rather than as a good one. */
const FRESH_SHARE = 0.5;

/** `pick`: the rate or one of its limits. */
export function tellRate(
  view: SensorView,
  sensor: PlantSensor,
  pick: (view: SensorView) => number | null,
  now: number,
): ToldValue {
  const { standing, at, heardAt } = view;
  const value = pick(view);
  if (standing === 'unknown' || (value === null && standing !== 'stale'))
    return { value: null, status: 'BadWaitingForInitialData', at };
  if (standing === 'stale') {
    // the sensor speaks and its motor does not run: there is nothing wrong, and no rate either
    const isHeard = heardAt !== null && now - heardAt <= sensor.staleMs;
    return { value: null, status: isHeard ? 'BadOutOfService' : 'BadNoCommunication', at };
  }
  if (at !== null && now - at > FRESH_SHARE * sensor.staleMs)
    return { value, status: 'UncertainLastUsableValue', at };
  return { value, status: standing === 'good' ? 'Good' : 'UncertainSubNormal', at };
}

export function tellHealth(view: SensorView): ToldValue {
  if (view.health === null) return { value: null, status: 'BadNoCommunication', at: view.heardAt };
  return { value: SENSOR_HEALTHS[view.health], status: 'Good', at: view.heardAt };
}

export function tellRunState(picture: Picture, motor: PlantMotor, now: number): ToldValue {
  const { state, at } = picture.viewDrive(motor, now);
  if (state === null)
    return { value: null, status: at === null ? 'BadWaitingForInitialData' : 'BadNoCommunication', at };
  return { value: RUN_STATE_NUMBERS[state], status: state === 'assumed' ? 'UncertainSubNormal' : 'Good', at };
}

/** Number of the most urgent alarm's state. `key`: of a sensor or a motor. */
export function tellAlarmState(
  picture: Picture,
  of: { readonly sensor: string } | { readonly motor: string },
  now: number,
): ToldValue {
  if (!picture.isFed(now)) return { value: null, status: 'BadNoCommunication', at: null };
  const alarms = 'sensor' in of ? picture.alarmsOfSensor(of.sensor) : picture.alarmsOfMotor(of.motor);
  const changes = alarms.map(({ news }) => news?.since ?? -Infinity);
  const last = Math.max(-Infinity, ...changes);
  return {
    value: numberState(summariseAlarms(alarms).state),
    status: 'Good',
    at: Number.isFinite(last) ? last : null,
  };
}
