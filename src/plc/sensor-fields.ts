/** The block of a sensor in the register map. */
import {
  ageS,
  ALARM_CODES,
  field,
  seconds,
  STANDING_NUMBERS,
  stateNumber,
  stateOfKind,
  type Field,
  type SensorRegisters,
} from './register-fields.js';
import { SENSOR_HEALTHS } from './sensor-health.js';

/** Pulses per minute times this. */
export const RATE_SCALE = 100;
const rate = { scale: RATE_SCALE, unit: '1/min' };

function alarmField(offset: number, kind: string): Field<SensorRegisters> {
  return field(
    offset,
    'uint16',
    kind,
    'state of that alarm, as alarm-state; unknown: it is off',
    ({ alarms }) => stateOfKind(alarms, kind),
  );
}

export const SENSOR_FIELDS: readonly Field<SensorRegisters>[] = [
  field(
    0,
    'uint32',
    'rate',
    'discharges per minute of running, over the last ten minutes of running',
    ({ view }) => view.ratePerMin,
    rate,
  ),
  field(2, 'uint32', 'rate-lower', 'lower limit of the rate, 95 %', ({ view }) => view.lowerPerMin, rate),
  field(4, 'uint32', 'rate-upper', 'upper limit of the rate, 95 %', ({ view }) => view.upperPerMin, rate),
  field(
    6,
    'uint16',
    'rate-quality',
    '0 no value yet, 1 good, 2 uncertain, 3 too old: the rate then reads as unknown',
    ({ view }) => STANDING_NUMBERS[view.standing],
  ),
  field(
    7,
    'uint16',
    'rate-age',
    'since the motor last ran with its pulses counted',
    ({ view, now }) => ageS(view.at, now),
    seconds,
  ),
  field(
    8,
    'uint16',
    'health',
    'of the sensor: 0 normal, 1 failure, 2 function check, 3 out of specification, 4 maintenance required',
    ({ view }) => (view.health === null ? null : SENSOR_HEALTHS[view.health]),
  ),
  field(9, 'uint16', 'alarm-state', `the most urgent alarm of this sensor: ${ALARM_CODES}`, ({ summary }) =>
    stateNumber(summary?.state),
  ),
  field(
    10,
    'uint16',
    'alarm-priority',
    'highest priority that is shown: 0 none, 1 low, 2 medium, 3 high',
    ({ summary }) => summary?.priority ?? null,
  ),
  field(
    11,
    'uint16',
    'alarms-active',
    'alarms that stand and are shown',
    ({ summary }) => summary?.active ?? null,
  ),
  field(
    12,
    'uint16',
    'heard-age',
    'since the sensor was last heard, running or not',
    ({ view, now }) => ageS(view.heardAt, now),
    seconds,
  ),
  ...[
    'clock-off',
    'rate-high',
    'rate-high-high',
    'above-baseline',
    'above-peers',
    'rising',
    'background-high',
    'no-readings',
    'counter-unknown',
    'saturated',
    'rejecting',
  ].map((kind, index) => alarmField(13 + index, kind)),
];
