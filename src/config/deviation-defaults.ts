/**
 * Deviation alarms when the file says nothing: all of them on, because there is no published safe count and a setpoint of the
 * site's own takes years to find. Their yardsticks are the motor's own past and its sisters.
 * Source: factors and windows of the design; delays and texts are our choice.
 */

const DAY_MS = 86_400_000;

const COMPARE =
  'Compare with the sister motors and with the history of this one; look what changed in the drive, the earthing or the duty.';
const WEAR = 'If the discharges do damage, the bearing wears out early: grease first, then fluted raceways.';

/**
 * `above-baseline`: an on-delay longer than the window, so that a single burst cannot raise. `rising` and `above-peers` have their
 * own pace (hours, days); of their settings `factor`, `deadbandShare`, `latching`, `priority` and the texts count.
 */
export const DEFAULT_DEVIATION_ALARM = {
  'above-baseline': {
    factor: 2,
    deadbandShare: 0.1,
    onDelayMs: 900_000,
    offDelayMs: 600_000,
    windowMs: 600_000,
    latching: false,
    priority: 'low',
    class: 'condition',
    timeToRespondMs: 7 * DAY_MS,
    rationale:
      'There is no published safe count, so a motor is measured by what it used to do itself under like conditions.',
    action: COMPARE,
    consequence: WEAR,
  },
  'above-peers': {
    factor: 2,
    deadbandShare: 0.1,
    onDelayMs: 0,
    offDelayMs: 0,
    windowMs: 3_600_000,
    latching: false,
    priority: 'low',
    class: 'condition',
    timeToRespondMs: 7 * DAY_MS,
    rationale: 'There is no published safe count, so a motor is measured by its sisters on the same duty.',
    action:
      'Look what sets this motor apart: earthing, cable, filter, bearing, grease; plan a shaft-voltage measurement by a competent person.',
    consequence: WEAR,
  },
  rising: {
    factor: 1.25,
    deadbandShare: 0,
    onDelayMs: 0,
    offDelayMs: 0,
    windowMs: 3_600_000,
    latching: false,
    priority: 'low',
    class: 'condition',
    timeToRespondMs: 7 * DAY_MS,
    rationale: 'A slow rise is found by adding it up, long before any ten minutes of it stand out.',
    action: COMPARE,
    consequence: WEAR,
  },
  'silent-in-company': {
    factor: 0.25,
    deadbandShare: 0,
    onDelayMs: 0,
    offDelayMs: 0,
    windowMs: 3_600_000,
    latching: false,
    priority: 'low',
    class: 'notice',
    timeToRespondMs: null,
    rationale: 'Zero counts do not prove that no bearing current flows, nor that the sensor is alive.',
    action: 'Do a function check of the sensor: no count is no proof of health.',
    consequence: 'If the sensor is dead, nobody sees what this bearing does.',
  },
  'background-high': {
    factor: 3,
    deadbandShare: 0.1,
    onDelayMs: 0,
    offDelayMs: 0,
    windowMs: 3_600_000,
    latching: false,
    priority: 'low',
    class: 'condition',
    timeToRespondMs: 7 * DAY_MS,
    rationale:
      'What is counted while the drive does not switch does not come from this motor, and is part of its running rate too.',
    action:
      'Find what the sensor hears while its own drive does not switch: a neighbour, a cable, a machine nearby.',
    consequence: 'The same counts are part of the running rate, which then says less about this bearing.',
  },
} as const;

export type DeviationAlarmKind = keyof typeof DEFAULT_DEVIATION_ALARM;
export const DEVIATION_ALARM_KINDS = Object.keys(DEFAULT_DEVIATION_ALARM) as DeviationAlarmKind[];

/** When a baseline is too old, and when a bin was not visited for too long, days. Our choice. */
export const DEFAULT_BASELINE = { ageMaxDays: 400, unvisitedMaxDays: 120 } as const;
