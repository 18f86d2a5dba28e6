/**
 * The configuration file: its sections, their limits and their defaults.
 * Strict: a key that is not here is an error, because a mistyped limit that is silently ignored is worse than none.
 */
import * as z from 'zod';
import {
  decimal,
  filePath,
  list,
  mapping,
  milliseconds,
  name,
  namePattern,
  oneOf,
  section,
  variableName,
  wholeNumber,
} from './leaves.js';
import { baselineSection } from './deviation-schema.js';
import { DutyGroupsSchema } from './duty-group-schema.js';
import { DEFAULT_SHELF_HOURS_MAX } from './motor-defaults.js';
import { forwardingAlarmFragment } from './forwarding-alarm.js';
import { groupAlarmsMapping } from './group-alarm-schema.js';
import { MotorSchema, TemplateSchema } from './motor-schema.js';
import { httpSection } from './http-schema.js';
import { modbusSection } from './modbus-schema.js';
import { notifySection } from './notify-schema.js';
import { opcuaSection } from './opcua-schema.js';
import { sinksSection } from './sinks-schema.js';
import { endpointText } from './endpoint.js';
import { timeZone } from './time-zone.js';

const loginName = z
  .string({ error: 'a login name of 1 to 64 letters, digits, dots, hyphens or underscores' })
  .regex(/^[A-Za-z0-9._-]{1,64}$/, {
    error: 'a login name of 1 to 64 letters, digits, dots, hyphens or underscores',
  });

const sensorPattern = z
  .string({ error: 'a sensor as motor/position, which may hold braces' })
  .regex(/^[a-z0-9{][a-z0-9-{}.,]*\/[a-z0-9{][a-z0-9-{}.,]*$/, {
    error: 'a sensor as motor/position, which may hold braces',
  })
  .max(200, { error: 'a sensor as motor/position, which may hold braces' });

const clientId = z
  .string({ error: 'a client id' })
  .min(1, { error: 'a client id' })
  .max(200, { error: 'a client id' });

const user = mapping(
  {
    name: loginName.meta({ description: 'Login name of the MQTT client.' }),
    passwordFile: filePath.optional().meta({ description: 'File with the password, relative to this file.' }),
    passwordEnv: variableName.optional().meta({ description: 'Environment variable with the password.' }),
    role: oneOf(
      ['device', 'drive', 'reader'],
      'device: publishes readings of its sensors. drive: publishes states of its motors. reader: subscribes.',
    ),
    sensors: list(sensorPattern, 'sensors', 'For a device: its sensors, motor/position.').optional(),
    motors: list(namePattern('a motor'), 'motors', 'For a drive: its motors.').optional(),
  },
  'One login. The password stands elsewhere, never here.',
);

const mqtt = section(
  {
    listen: endpointText('127.0.0.1:1883', 'HOST:PORT that sensors and drives connect to.'),
    packetBytesMax: wholeNumber(1_024, 1_048_576, 'bytes', 'Largest MQTT packet.').default(65_536),
    clientsMax: wholeNumber(1, 100_000, 'clients', 'Most clients at a time.').default(4_000),
    pendingPerClientMax: wholeNumber(
      1,
      65_535,
      'messages',
      'Most messages of one client that wait for their commit.',
    ).default(200),
    pendingBytesMax: wholeNumber(
      65_536,
      1_073_741_824,
      'bytes',
      'Most bytes that wait for their commit, all clients together.',
    ).default(33_554_432),
    drainTimeoutMs: milliseconds(100, 600_000, 'A subscriber that reads nothing for so long is cut.').default(
      5_000,
    ),
    users: list(
      user,
      'users',
      'Logins. Absent: loopback only, and anyone on this machine may publish and subscribe.',
    )
      .min(1, { error: 'at least one user; leave the key away for loopback without logins' })
      .optional(),
    persistentClients: list(
      clientId,
      'client ids',
      'Clients that may keep a session though they subscribe.',
    ).default([]),
  },
  'The MQTT broker.',
);

const days = (description: string, fallback: number) =>
  wholeNumber(1, 36_500, 'days', description).default(fallback);

const retention = section(
  {
    incrementsDays: days('Single increments: the ledger to the pulse.', 14),
    windowsDays: days('Revisions of 10 s windows.', 14),
    minutesDays: days('1 min rollups.', 400),
    tenMinutesDays: days('10 min rollups.', 1_500),
    hoursDays: days('1 h rollups.', 7_300),
    journalDays: days('Journal of alarms, operators and notices.', 3_660),
    quarantineDays: days('Messages that could not be read.', 30),
    drivesDays: days('Drive states.', 30),
  },
  'How long each kind of record is kept.',
);

const storage = section(
  {
    minCommitIntervalMs: milliseconds(
      0,
      1_000,
      'Least time between two commits; up to 1,000 spares a flash card, and delays each acknowledgement by so much.',
    ).default(0),
    retention,
    walBytesMax: wholeNumber(
      1_048_576,
      4_294_967_296,
      'bytes',
      'Most bytes of the write-ahead log before it is folded back.',
    ).default(67_108_864),
  },
  'The database.',
);

const core = section(
  {
    reviseHorizonDays: decimal(
      0.001,
      60,
      'days',
      'Late readings and drive states change what is stored up to this age.',
    ).default(7),
    futureToleranceMs: milliseconds(
      0,
      86_400_000,
      'A time further ahead than this is taken as the time of arrival.',
    ).default(120_000),
  },
  'Order and lateness.',
);

const gate = section(
  {
    beforeEdgeMs: milliseconds(0, 600_000, 'Guard before a start or a stop.').default(2_000),
    afterRunningMs: milliseconds(0, 600_000, 'Guard after running is reported.').default(5_000),
    afterStoppedMs: milliseconds(0, 600_000, 'Guard after stopped or fault.').default(10_000),
    capMs: milliseconds(0, 3_600_000, 'Longest guard after an edge.').default(120_000),
    mergeMs: milliseconds(0, 600_000, 'Guards this near to one another are one transient.').default(5_000),
    coupledMs: milliseconds(0, 60_000, 'Guard around the switching of a coupled drive.').default(1_000),
    settleMs: milliseconds(
      0,
      60_000,
      'A drive that reports on change is settled up to now minus this.',
    ).default(5_000),
    settleWaitMs: milliseconds(1_000, 3_600_000, 'Longest wait for a run state.').default(60_000),
    maxIntervalFactor: decimal(
      1,
      100,
      '',
      'Longest usable increment as a multiple of the reporting interval.',
    ).default(3.15),
  },
  'Which pulses count as running.',
);

const common = section(
  {
    tail: decimal(1e-9, 0.1, '', 'Chance below which a window counts as a burst.').default(1e-4),
    windowsMin: wholeNumber(
      10,
      360,
      'windows',
      'Own running windows of the last hour that a vote needs.',
    ).default(60),
    motorsMin: wholeNumber(2, 100, 'motors', 'Distinct other motors that must burst at once.').default(3),
    shareMin: decimal(0, 1, '', 'Share of the motors with a vote that must burst at once.').default(0.3),
    quietMs: milliseconds(
      0,
      3_600_000,
      'No vote for so long after a change of its own run state or speed.',
    ).default(600_000),
    speedStep: decimal(0.001, 1, '', 'A change of speed by this share is a step.').default(0.1),
  },
  'Bursts heard on several motors at once.',
);

const alarmBudget = section(
  {
    falseAlarmsPerMonth: decimal(
      0.001,
      1_000,
      'false alarms',
      'For the whole plant, rate and deviation alarms together. null: 1, and deviation alarms one in 20 motor-years.',
    )
      .nullable()
      .default(null),
  },
  'How many alarms by mere chance the site accepts.',
);

const alarms = section(
  {
    shelfHoursMax: decimal(
      0.25,
      720,
      'hours',
      'Longest time for which an operator may shelve an alarm; for longer it is taken out of service.',
    ).default(DEFAULT_SHELF_HOURS_MAX),
    groups: groupAlarmsMapping.default({}),
    'forwarding-behind': forwardingAlarmFragment,
  },
  'What operators may do with alarms, alarms that stand for many, and alarms of the gateway.',
);

/** The whole file. */
export const FileSchema = mapping(
  {
    site: name('First level of every topic.'),
    timeZone: timeZone('Zone of the local day and of times shown to people.').default('UTC'),
    mqtt,
    http: httpSection,
    storage,
    core,
    gate,
    common,
    alarms,
    alarmBudget,
    notify: notifySection,
    modbus: modbusSection.optional(),
    opcua: opcuaSection.optional(),
    sinks: sinksSection,
    baseline: baselineSection,
    dutyGroups: DutyGroupsSchema,
    templates: z
      .record(name('Name of a template.'), TemplateSchema, { error: 'a mapping of templates' })
      .default({})
      .meta({ description: 'What motors share.' }),
    motors: z
      .record(namePattern('A motor; braces make a row: booster-{1..6}.'), MotorSchema, {
        error: 'a mapping of motors',
      })
      .meta({ description: 'The motors of the site.' }),
  },
  'Configuration of Tallypost.',
);

export type FileContent = z.output<typeof FileSchema>;
