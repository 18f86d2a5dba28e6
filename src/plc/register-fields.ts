/**
 * The register map in one table: what stands where in the header, in the block of a motor and in the block of a sensor.
 * The printed map and the served values come from the same lines, so they cannot differ. Lines are only ever added in
 * places that were free: a PLC reads by number.
 */
import type { AlarmStateName } from '../../shared/alarm-terms.js';
import { numberState, stateOf, type AlarmSummary } from './alarm-rank.js';
import type { AlarmView, DriveView, SensorView } from './picture.js';
import { SENSOR_HEALTHS } from './sensor-health.js';
import type { WordOrder } from './word-order.js';

export type RegisterType = 'uint16' | 'uint32';

/** One value. `read` null: unknown, which has a value of its own. `scale`: the register holds the value times this. */
export interface Field<View> {
  readonly offset: number;
  readonly type: RegisterType;
  readonly name: string;
  readonly scale: number;
  readonly unit: string;
  readonly meaning: string;
  /** all bits as they are: no value of it means unknown */
  readonly isBits?: boolean;
  readonly read: (view: View) => number | null;
}

/** Known to whoever sets up the reading: it comes out as 305,419,896 when both orders are right. */
export const TEST_VALUE = 0x12345678;
/** Raised when something in the table changes its place or its meaning. */
export const LAYOUT_VERSION = 1;

export interface HeaderView {
  readonly wordOrder: number;
  /** counts once a second while the gateway feeds this server; stands still when it does not */
  readonly heartbeat: number;
  readonly status: number;
  readonly uptimeS: number;
  readonly timeS: number;
  readonly motors: number;
  readonly sensors: number;
  readonly activeAlarms: number | null;
  readonly unacknowledgedAlarms: number | null;
  readonly revisionBits: number;
  readonly mapBits: number;
}

export interface MotorView {
  readonly drive: DriveView;
  readonly now: number;
  /** null: nobody feeds the server */
  readonly alarms: readonly AlarmView[] | null;
  readonly summary: AlarmSummary | null;
}

export interface SensorRegisters {
  readonly view: SensorView;
  readonly now: number;
  readonly alarms: readonly AlarmView[] | null;
  readonly summary: AlarmSummary | null;
}

export const STATUS_NUMBERS = { ok: 0, notReady: 1, noFeed: 2 } as const;
export const RUN_STATE_NUMBERS = {
  stopped: 1,
  starting: 2,
  running: 3,
  stopping: 4,
  fault: 5,
  assumed: 6,
} as const;
export const STANDING_NUMBERS = { unknown: 0, good: 1, uncertain: 2, stale: 3 } as const;

type Plain<View> = Omit<Field<View>, 'offset' | 'type' | 'name' | 'scale' | 'unit' | 'meaning' | 'read'>;

function field<View>(
  offset: number,
  type: RegisterType,
  name: string,
  meaning: string,
  read: (view: View) => number | null,
  more: Partial<Plain<View>> & { scale?: number; unit?: string } = {},
): Field<View> {
  return { offset, type, name, meaning, read, scale: 1, unit: '', ...more };
}

const bits = { isBits: true };
const seconds = { unit: 's' };

export const HEADER_FIELDS: readonly Field<HeaderView>[] = [
  field(
    0,
    'uint32',
    'test',
    'test pair: 305419896 (hex 12345678) when the orders are right',
    () => TEST_VALUE,
    bits,
  ),
  field(2, 'uint16', 'layout', 'version of this layout', () => LAYOUT_VERSION),
  field(3, 'uint16', 'word-order', '0 ABCD, 1 CDAB, 2 BADC, 3 DCBA', (view) => view.wordOrder),
  field(
    4,
    'uint16',
    'heartbeat',
    'counts 0 to 65535 and over, once a second; stands still when the gateway says nothing: then believe nothing',
    (view) => view.heartbeat,
    bits,
  ),
  field(
    5,
    'uint16',
    'status',
    '0 ok, 1 nothing can be stored, 2 the gateway says nothing',
    (view) => view.status,
  ),
  field(6, 'uint32', 'uptime', 'since this server started', (view) => view.uptimeS, seconds),
  field(8, 'uint32', 'time', 'clock of the gateway, since 1970-01-01 UTC', (view) => view.timeS, seconds),
  field(10, 'uint16', 'motors', 'motors in this map', (view) => view.motors),
  field(11, 'uint16', 'sensors', 'sensors in this map', (view) => view.sensors),
  field(
    12,
    'uint32',
    'revision',
    'first 8 hex digits of the revision of the configuration',
    (view) => view.revisionBits,
    bits,
  ),
  field(
    14,
    'uint32',
    'map',
    'fingerprint of all addresses of this map; it changes when any of them does',
    (view) => view.mapBits,
    bits,
  ),
  field(
    16,
    'uint16',
    'alarms-active',
    'alarms of all motors that stand and are shown',
    (view) => view.activeAlarms,
  ),
  field(
    17,
    'uint16',
    'alarms-unacknowledged',
    'of all motors, shown and not acknowledged',
    (view) => view.unacknowledgedAlarms,
  ),
];

const ALARM_CODES =
  'information only, never an interlock, trip or protection input: 0 normal, 1 unacknowledged, 2 acknowledged, 3 returned unacknowledged, 4 latched unacknowledged, 5 latched acknowledged, 6 shelved, 7 suppressed by design, 8 out of service';

function stateNumber(state: AlarmStateName | undefined): number | null {
  return state === undefined ? null : numberState(state);
}

/** Whole seconds since `at`, never negative; null: there is no such time. */
export function ageS(at: number | null, now: number): number | null {
  return at === null ? null : Math.max(0, Math.floor((now - at) / 1000));
}

function stateOfKind(alarms: readonly AlarmView[] | null, kind: string): number | null {
  const alarm = alarms?.find(({ planned }) => planned.kind === kind);
  return alarm === undefined ? null : numberState(stateOf(alarm));
}

export const MOTOR_FIELDS: readonly Field<MotorView>[] = [
  field(
    0,
    'uint16',
    'run-state',
    '1 stopped, 2 starting, 3 running, 4 stopping, 5 fault, 6 not reported and taken as running',
    ({ drive }) => (drive.state === null ? null : RUN_STATE_NUMBERS[drive.state]),
  ),
  field(1, 'uint16', 'modulating', '1 the inverter switches, 0 it does not', ({ drive }) =>
    drive.modulating === null ? null : Number(drive.modulating),
  ),
  field(
    2,
    'uint16',
    'run-state-age',
    'since the last message of the drive',
    ({ drive, now }) => ageS(drive.at, now),
    seconds,
  ),
  field(
    3,
    'uint16',
    'alarm-state',
    `the most urgent alarm of the motor and its sensors: ${ALARM_CODES}`,
    ({ summary }) => stateNumber(summary?.state),
  ),
  field(
    4,
    'uint16',
    'alarm-priority',
    'highest priority that is shown: 0 none, 1 low, 2 medium, 3 high',
    ({ summary }) => summary?.priority ?? null,
  ),
  field(
    5,
    'uint16',
    'alarms-active',
    'alarms that stand and are shown',
    ({ summary }) => summary?.active ?? null,
  ),
  field(
    6,
    'uint16',
    'alarms-unacknowledged',
    'shown and not acknowledged',
    ({ summary }) => summary?.unacknowledged ?? null,
  ),
  field(
    7,
    'uint16',
    'run-state-lost',
    'state of that alarm, as alarm-state; unknown: it is off',
    ({ alarms }) => stateOfKind(alarms, 'run-state-lost'),
  ),
  field(
    8,
    'uint32',
    'run-state-since',
    'in this run state',
    ({ drive, now }) => ageS(drive.since, now),
    seconds,
  ),
];

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

/** Places of the word orders, for `word-order`. */
export function numberOrder(order: WordOrder): number {
  return ['ABCD', 'CDAB', 'BADC', 'DCBA'].indexOf(order);
}
