/** Bodies of the wiring: for each sensor the chain from its first message to the sinks, and who else sends. */
import { z } from 'zod';
import { LINK_NAMES, LINK_STATES } from '../advice/wiring-trace.js';
import { utcSchema } from '../../shared/time.js';

const utcOrNull = utcSchema.nullable();
const next = z
  .string()
  .nullable()
  .describe('give it as `cursor` to get the next page; null: this is the last');

const link = z.object({
  link: z.enum(LINK_NAMES),
  state: z.enum(LINK_STATES).describe('unknown: nothing speaks for it or against it yet'),
  at: utcOrNull.describe('last time that it held; null: never, or not since the gateway started'),
  fault_at: utcOrNull.describe('last time that it did not hold'),
  fault: z.string().describe('that last fault in plain words, also of the past; empty: none is known'),
  says: z.string().describe('how it stands, in a sentence'),
  todo: z.string().describe('what to do; empty: nothing'),
});

export const wiringBody = z.object({
  now: utcSchema,
  zone: z.string().describe('IANA time zone of the site'),
  sensors: z.array(
    z.object({
      sensor: z.string(),
      motor: z.string(),
      position: z.string(),
      device: z.string().nullable().describe('null: no reading yet; empty: the messages name none'),
      broken: z.enum(LINK_NAMES).nullable().describe('the first link that is at fault; null: none is'),
      chain: z.array(link).describe('from the field to the sinks, always all eight links'),
    }),
  ),
  next,
});

export const STRANGER_KINDS = [
  'failed-login',
  'denied-publish',
  'denied-subscribe',
  'unknown-sender',
] as const;

export const strangersBody = z.object({
  now: utcSchema,
  strangers: z.array(
    z.object({
      kind: z.enum(STRANGER_KINDS),
      topic: z.string().describe('topic or filter; empty: a login'),
      client: z.string().describe('client id as it was given'),
      login: z.string().describe('user name as it was given; empty: none, or not known any more'),
      count: z.int().min(1),
      first_at: utcSchema,
      last_at: utcSchema,
      rule: z.string().describe('the rule that denied it, or why nothing is known of the sender'),
      todo: z.string(),
    }),
  ),
  next,
});

export type WiringBody = z.output<typeof wiringBody>;
export type StrangersBody = z.output<typeof strangersBody>;
