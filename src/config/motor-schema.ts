/**
 * Templates and motors as they stand in the file: every key may be missing, because a template or a default supplies it.
 * Parts that both share have an id, so that the JSON Schema states them once.
 * What a motor must have in the end is checked when template and motor are merged (see motors.ts).
 */
import * as z from 'zod';
import { readTime, TIME_RULE } from '../../shared/time.js';
import {
  DEFAULT_CONDITION_ALARM,
  DEFAULT_DRIVE,
  DEFAULT_POSITION,
  DEFAULT_RATE_ALARM,
} from './motor-defaults.js';
import { attributeKeys } from './attribute-schema.js';
import { deviationAlarms } from './deviation-schema.js';
import {
  decimal,
  list,
  mapping,
  milliseconds,
  name,
  namePattern,
  oneOf,
  optional,
  orFalse,
} from './leaves.js';

const DAY_MS = 86_400_000;

const driveFragment = mapping(
  {
    heartbeatMs: optional(
      milliseconds(
        1_000,
        3_600_000,
        'The drive resends its state this often. null: it sends on change only.',
      ).nullable(),
      DEFAULT_DRIVE.heartbeatMs,
    ),
    rampMs: optional(
      milliseconds(
        0,
        600_000,
        'How long a ramp takes on a drive that never reports starting; widens the guards.',
      ),
      DEFAULT_DRIVE.rampMs,
    ),
    runState: optional(
      oneOf(
        ['reported', 'none'],
        'none: nobody says whether the motor runs; it is taken as running, uncertain.',
      ),
      DEFAULT_DRIVE.runState,
    ),
    clockErrorMs: optional(
      milliseconds(0, 60_000, 'Largest error of the clock that stamps the drive states.'),
      DEFAULT_DRIVE.clockErrorMs,
    ),
    switchingKhz: optional(
      decimal(
        0.1,
        100,
        'kHz',
        'Switching frequency: bounds the plausible rate at six discharges a period.',
      ).nullable(),
      null,
    ),
  },
  'The drive that feeds the motor.',
).meta({ id: 'drive' });

const counterBits = z
  .union([z.literal(16), z.literal(32), z.literal(53)], { error: 'one of 16, 32, 53' })
  .meta({ description: 'Width of the counter in the device. 53: it does not wrap.' });

const positionFragment = mapping(
  {
    intervalMs: optional(
      milliseconds(100, 3_600_000, 'Time between two readings.'),
      DEFAULT_POSITION.intervalMs,
    ),
    counterBits: optional(counterBits, DEFAULT_POSITION.counterBits),
    maxRatePerS: optional(
      decimal(
        0.001,
        10_000_000,
        'discharges a second',
        'Highest plausible rate. Absent: from dead time and switching frequency.',
      ),
    ),
    deadTimeUs: optional(
      decimal(0, 1_000_000, 'microseconds', 'The sensor is blind this long after a discharge. 0: not known.'),
      DEFAULT_POSITION.deadTimeUs,
    ),
    coupledTo: optional(
      list(
        namePattern('a motor'),
        'motors',
        'Motors whose drives are heard here when they switch on or off.',
      ),
      DEFAULT_POSITION.coupledTo,
    ),
    clockErrorMs: optional(
      milliseconds(0, 60_000, 'Largest error of the device clock; beyond it clock-off stands.'),
      DEFAULT_POSITION.clockErrorMs,
    ),
    reorderWaitMs: optional(
      milliseconds(
        0,
        3_600_000,
        'How long a gap in seq waits for the missing reading. Absent: intervalMs + 5,000.',
      ),
    ),
  },
  'One sensor. Empty: all defaults. false: this motor has no sensor here although its template has.',
).meta({ id: 'position' });

const rateAlarmFragment = mapping(
  {
    setpointPerMin: optional(
      decimal(0.01, 10_000_000, 'discharges a minute', 'Raise when the lower limit of the rate lies above.'),
    ),
    deadbandPerMin: optional(
      decimal(
        0,
        10_000_000,
        'discharges a minute',
        'Return when the upper limit lies below setpoint - deadband. Absent: a tenth of the setpoint.',
      ),
    ),
    onDelayMs: optional(milliseconds(0, DAY_MS, 'In running time.'), DEFAULT_RATE_ALARM.onDelayMs),
    offDelayMs: optional(milliseconds(0, DAY_MS, 'In running time.'), DEFAULT_RATE_ALARM.offDelayMs),
    windowMs: optional(
      milliseconds(
        60_000,
        DAY_MS,
        'Running time that the rate is judged over; whole windows of 10 s.',
      ).multipleOf(10_000, {
        error: 'a whole number of 10,000 ms windows',
      }),
      DEFAULT_RATE_ALARM.windowMs,
    ),
    confidence: optional(
      decimal(0.5, 0.9999999999, '', 'Of the two-sided limits. Absent: from the false-alarm budget.'),
    ),
    ...attributeKeys(DEFAULT_RATE_ALARM),
    positions: optional(list(name('a position'), 'positions', 'Which sensors of the motor. Absent: all.')),
  },
  'An alarm on the running rate. false: off although the template has it.',
).meta({ id: 'rateAlarm' });

function conditionAlarm(kind: keyof typeof DEFAULT_CONDITION_ALARM, description: string) {
  const defaults = DEFAULT_CONDITION_ALARM[kind];
  const shape = {
    onDelayMs: optional(milliseconds(0, DAY_MS, 'The condition must hold this long.'), defaults.onDelayMs),
    offDelayMs: optional(
      milliseconds(0, DAY_MS, 'The condition must be gone this long.'),
      defaults.offDelayMs,
    ),
    ...attributeKeys(defaults),
  };
  return orFalse(mapping(shape, description));
}

const alarmsFragment = mapping(
  {
    'rate-high': orFalse(rateAlarmFragment),
    'rate-high-high': orFalse(rateAlarmFragment),
    ...deviationAlarms,
    'no-readings': conditionAlarm('no-readings', 'A sensor sends nothing. On unless false.'),
    'run-state-lost': conditionAlarm(
      'run-state-lost',
      'Nobody says whether the motor runs. On unless false.',
    ),
    'counter-unknown': conditionAlarm(
      'counter-unknown',
      'Pulses went by that nobody can count. On unless false.',
    ),
    rejecting: conditionAlarm('rejecting', 'A sensor keeps sending implausible counts. On unless false.'),
    saturated: conditionAlarm(
      'saturated',
      'So many discharges that the dead time hides half of them. On unless false.',
    ),
    'clock-off': conditionAlarm('clock-off', 'The clock of a device is wrong. On unless false.'),
  },
  'Alarms of the motor and its sensors.',
).meta({ id: 'alarms' });

const nameplateFragment = mapping(
  {
    powerKw: optional(decimal(0.01, 100_000, 'kW', 'Rated power.').nullable(), null),
    frameMm: optional(
      decimal(40, 2_000, 'mm', 'Shaft height, the number in the frame size.').nullable(),
      null,
    ),
  },
  'What the nameplate says. Only hypotheses use it: the usual mechanism differs with size.',
).meta({ id: 'nameplate' });

const COMMISSIONING_EXPECTED = `true, false, or the end as ${TIME_RULE}`;

const commissioning = z
  .union(
    [
      z.boolean({ error: COMMISSIONING_EXPECTED }),
      z.string({ error: COMMISSIONING_EXPECTED }).refine((text) => readTime(text) !== null, {
        error: COMMISSIONING_EXPECTED,
      }),
    ],
    { error: COMMISSIONING_EXPECTED },
  )
  .meta({
    description:
      'Being set up: its counts compare with nothing yet, so its deviation alarms are suppressed. A time: until then.',
  });

const fragment = {
  zone: optional(
    name('Motors that hear the same interference; bursts common to a zone are set aside.'),
    'plant',
  ),
  dutyGroup: optional(name('Motors on the same duty, which may be compared. Absent: compared with none.')),
  nameplate: optional(nameplateFragment),
  commissioning: optional(commissioning, false),
  drive: optional(driveFragment),
  positions: optional(
    z
      .record(
        name('A position, such as de or nde.'),
        z.union([z.literal(false), z.null(), positionFragment], { error: 'a mapping, nothing, or false' }),
        {
          error: 'a mapping of positions, such as de: and nde:',
        },
      )
      .meta({ description: 'Sensors by position.' }),
  ),
  alarms: optional(alarmsFragment),
};

export const TemplateSchema = mapping(fragment, 'What motors that name this template share.');
export const MotorSchema = mapping(
  { template: optional(name('Name of the template under this motor.')), ...fragment },
  'A motor, or with braces in its name a row of like motors. Own keys win over the template.',
);

export type MotorFragment = z.output<typeof MotorSchema>;
export type TemplateFragment = z.output<typeof TemplateSchema>;
export type PositionFragment = z.output<typeof positionFragment>;
export type RateAlarmFragment = z.output<typeof rateAlarmFragment>;
