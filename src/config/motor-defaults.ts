/**
 * What a motor, its sensors and its alarms are when the file says nothing.
 * Source: the design for the numbers it gives (10 s interval, 1 s clock error, delays of the rate alarms); the other
 * delays and the texts are our choice, common practice for slow conditions that an operator answers within a shift.
 */

const DAY_MS = 86_400_000;
const SHIFT_MS = 8 * 3_600_000;

export const DEFAULT_ZONE = 'plant';

export const DEFAULT_DRIVE = {
  heartbeatMs: null,
  rampMs: 0,
  runState: 'reported',
  clockErrorMs: 1_000,
  switchingKhz: null,
} as const;

export const DEFAULT_POSITION = {
  intervalMs: 10_000,
  counterBits: 53,
  deadTimeUs: 0,
  coupledTo: [],
  clockErrorMs: 1_000,
} as const;

/** Plausible maximum rate where nothing bounds it, per second. */
export const DEFAULT_MAX_RATE_PER_S = 50_000;
/** Added to the reporting interval for the wait on a missing reading. */
export const DEFAULT_REORDER_EXTRA_MS = 5_000;
/** Deadband as a share of the setpoint. Our choice. */
export const DEFAULT_DEADBAND_SHARE = 0.1;

/**
 * Longest shelf, hours. Common practice, no source: what is shelved comes back by the same shift of the next day at the
 * latest; what is to be away for longer is maintenance, and is taken out of service.
 */
export const DEFAULT_SHELF_HOURS_MAX = 24;

/** Bearing erosion takes weeks, hence the low priority. */
export const DEFAULT_RATE_ALARM = {
  onDelayMs: 300_000,
  offDelayMs: 600_000,
  windowMs: 600_000,
  latching: false,
  priority: 'low',
  class: 'condition',
  timeToRespondMs: 7 * DAY_MS,
  action:
    'Compare with the sister motors and with the history of this one; plan a shaft-voltage measurement by a competent person.',
  consequence:
    'If the discharges do damage, the bearing wears out early: grease first, then fluted raceways.',
} as const;

/**
 * `no-readings` waits at least as long as the sensor's longest normal interval. The counts of `counter-unknown`,
 * `rejecting` and `clock-off` come in single events, so they return only after ten quiet minutes.
 */
export const DEFAULT_CONDITION_ALARM = {
  'no-readings': {
    onDelayMs: 300_000,
    offDelayMs: 30_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: DAY_MS,
    rationale: 'No data is not normal: silence must not be taken for a bearing at rest.',
    action: 'Check supply, wiring and network of the sensor; its count goes on meanwhile and catches up.',
    consequence:
      'Nobody sees what this bearing does; a power cut at the device loses the pulses since its last reading.',
  },
  'run-state-lost': {
    onDelayMs: 60_000,
    offDelayMs: 30_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: SHIFT_MS,
    rationale:
      'Without a run state no pulse can be told from interference, so that every other alarm of the motor is blind.',
    action: 'Check who reports the drive state: its network, its login, its heartbeat.',
    consequence: 'Pulses of this motor cannot be attributed; its rate and its rate alarms stand still.',
  },
  'counter-unknown': {
    onDelayMs: 0,
    offDelayMs: 600_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: 7 * DAY_MS,
    rationale: 'A device that restarts unseen loses pulses each time; why it does must be found.',
    action: 'Find out why the device restarted or wrapped unseen; have it send boot and seq.',
    consequence: 'Pulses went by that nobody can count; the ledger lists them as a range.',
  },
  rejecting: {
    onDelayMs: 60_000,
    offDelayMs: 600_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: DAY_MS,
    rationale: 'Counts faster than the drive can switch come from the device or from its settings.',
    action: 'Check the device and its maxRatePerS; look at the rejected readings.',
    consequence: 'Counts of this sensor are set aside as implausible, so its rate stands still.',
  },
  saturated: {
    onDelayMs: 300_000,
    offDelayMs: 600_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: 7 * DAY_MS,
    rationale: 'Beyond half of dead time a correction is more guess than measurement.',
    action: 'Take the rate as a lower bound; check mounting and threshold of the sensor.',
    consequence: 'More than half of the discharges fall into the dead time, so the true rate is uncertain.',
  },
  'clock-off': {
    onDelayMs: 600_000,
    offDelayMs: 600_000,
    latching: false,
    priority: 'low',
    class: 'instrument',
    timeToRespondMs: 7 * DAY_MS,
    rationale: 'A clock that is off by more than its declared error moves pulses across starts and stops.',
    action: 'Set the clock of the device or its time server.',
    consequence: 'Pulses near a start or a stop cannot be told from running ones and stay unattributed.',
  },
} as const;

export type RateAlarmKind = 'rate-high' | 'rate-high-high';
export type ConditionAlarmKind = keyof typeof DEFAULT_CONDITION_ALARM;
export const RATE_ALARM_KINDS: readonly RateAlarmKind[] = ['rate-high', 'rate-high-high'];
/** `run-state-lost` belongs to the drive, the others to each sensor. */
export const SENSOR_ALARM_KINDS: readonly ConditionAlarmKind[] = [
  'no-readings',
  'counter-unknown',
  'rejecting',
  'saturated',
  'clock-off',
];
