/**
 * Every message of the contract with its topic, its direction and its schema: what documents are generated from.
 * A message that is not listed here is in no document; a test holds the list against the examples and the topics.
 */
import type { z } from 'zod';
import { EXAMPLES, type MessageName } from './examples.js';
import { drivePresenceBody, driveStateBody, readingBody, sensorPresenceBody } from './messages.js';
import {
  alarmSchema,
  gatewayPresenceSchema,
  journalSchema,
  rateSchema,
  rollupSchema,
} from './out-messages.js';
import {
  alarmTopic,
  drivePresenceTopic,
  driveStateTopic,
  gatewayPresenceTopic,
  journalTopic,
  rateTopic,
  readingTopic,
  rollupTopic,
  sensorPresenceTopic,
  type PeriodName,
} from './topics.js';

export interface CatalogueEntry {
  readonly name: MessageName;
  readonly title: string;
  /** `in`: from the field to the gateway; `out`: from the gateway to everyone */
  readonly direction: 'in' | 'out';
  readonly retained: boolean;
  /** topic with the names of its levels in braces */
  readonly address: string;
  readonly schema: z.ZodType;
  readonly example: { readonly topic: string; readonly payload: object };
  readonly about: string;
}

const SITE = '{site}';
const MOTOR = '{motor}';
const POSITION = '{position}';
/** The builder of topics takes periods only; in a template the level is a name in braces. */
const PERIOD = '{period}' as PeriodName;

const FIELD: readonly CatalogueEntry[] = [
  {
    name: 'reading',
    title: 'Reading',
    direction: 'in',
    retained: false,
    address: readingTopic(SITE, MOTOR, POSITION),
    schema: readingBody,
    example: EXAMPLES.reading,
    about: 'A sensor tells its cumulative count. QoS 1; acknowledged once it is on disk.',
  },
  {
    name: 'sensor-presence',
    title: 'Presence of a sensor',
    direction: 'in',
    retained: true,
    address: sensorPresenceTopic(SITE, MOTOR, POSITION),
    schema: sensorPresenceBody,
    example: EXAMPLES['sensor-presence'],
    about: 'A sensor tells that it is there; its will says that it is gone.',
  },
  {
    name: 'drive-state',
    title: 'State of a drive',
    direction: 'in',
    retained: true,
    address: driveStateTopic(SITE, MOTOR),
    schema: driveStateBody,
    example: EXAMPLES['drive-state'],
    about: 'On each change, on each connect, and on each heartbeat where one is configured.',
  },
  {
    name: 'drive-presence',
    title: 'Presence of the reporter of a drive',
    direction: 'in',
    retained: true,
    address: drivePresenceTopic(SITE, MOTOR),
    schema: drivePresenceBody,
    example: EXAMPLES['drive-presence'],
    about: 'Whoever reports a drive tells that it is there; its will says that it is gone.',
  },
];

const EVERYONE: readonly CatalogueEntry[] = [
  {
    name: 'gateway-presence',
    title: 'Presence of the gateway',
    direction: 'out',
    retained: true,
    address: gatewayPresenceTopic(SITE),
    schema: gatewayPresenceSchema,
    example: EXAMPLES['gateway-presence'],
    about: 'The gateway tells that it is there.',
  },
  {
    name: 'rate',
    title: 'Running rate',
    direction: 'out',
    retained: true,
    address: rateTopic(SITE, MOTOR, POSITION),
    schema: rateSchema,
    example: EXAMPLES.rate,
    about: 'Each 10 s: the last final base window, and the rate over the trailing running exposure.',
  },
  {
    name: 'rollup',
    title: 'Rollup',
    direction: 'out',
    retained: false,
    address: rollupTopic(SITE, MOTOR, POSITION, PERIOD),
    schema: rollupSchema,
    example: EXAMPLES.rollup,
    about: 'Sums over a period, issued when it is final, and again with the next revision when it changes.',
  },
  {
    name: 'alarm',
    title: 'Alarm',
    direction: 'out',
    retained: true,
    address: alarmTopic(SITE, MOTOR, '{alarm}'),
    schema: alarmSchema,
    example: EXAMPLES.alarm,
    about: 'The state of an alarm, with the evidence of its last transition. Never an interlock or a trip.',
  },
  {
    name: 'journal',
    title: 'Journal',
    direction: 'out',
    retained: false,
    address: journalTopic(SITE),
    schema: journalSchema,
    example: EXAMPLES.journal,
    about: 'What happened: transitions of alarms, acts of people, notices, changes of the configuration.',
  },
];

export const CATALOGUE: readonly CatalogueEntry[] = [...FIELD, ...EVERYONE];
