/** Bodies about rehearsals. Times as everywhere; lengths in ms. */
import { z } from 'zod';
import { NAME_PATTERN } from '../../shared/names.js';
import { utcSchema } from '../../shared/time.js';
import { next } from './bodies.js';

const count = z.int().min(0);
const ms = z.int().min(0);
const utcOrNull = utcSchema.nullable();

/** Longest text of a candidate; the largest plants take some tens of kilobytes. */
export const CANDIDATE_CHARACTERS_MOST = 500_000;

const CHANGES_MOST = 50;
const perMin = z.number().positive().max(10_000_000);
const delayMs = z
  .int()
  .min(0)
  .max(7 * 86_400_000);

const alarmChange = z.strictObject({
  motor: z.string().regex(NAME_PATTERN, { error: 'expected the name of a motor' }),
  kind: z.enum(['rate-high', 'rate-high-high']),
  setpoint_per_min: perMin.optional(),
  deadband_per_min: perMin.optional(),
  on_delay_ms: delayMs.optional(),
  off_delay_ms: delayMs.optional(),
});

const time = z.union([z.string().max(40), z.int()]);

export const rehearsalRequest = z.strictObject({
  configuration: z
    .string()
    .min(1)
    .max(CANDIDATE_CHARACTERS_MOST)
    .optional()
    .describe('the candidate, the text of a configuration file; absent: the file as it is, with the changes'),
  changes: z
    .array(alarmChange)
    .max(CHANGES_MOST)
    .default([])
    .describe(
      'other setpoints and delays, written into the text before it is checked; what is left out stays',
    ),
  from: time
    .optional()
    .describe('RFC 3339 with an offset, or milliseconds since the Unix epoch; absent: 30 days before `to`'),
  to: time.optional().describe('likewise; absent: the newest stored minute'),
});

const tally = z.object({
  raised: count.describe('activations that began in the time rehearsed'),
  stands_at_start: z.boolean(),
  stands_at_end: z.boolean(),
  stood_ms: ms,
  longest_ms: ms,
  chattering: count.describe('activations that are one of at least three within a minute'),
  repeated: count.describe('activations that came less than an hour after the one before'),
  activations: z
    .array(z.object({ from: utcSchema, to: utcOrNull.describe('null: it stands at the end') }))
    .describe('the first 100'),
});

const settings = z.array(
  z.object({
    name: z.string(),
    running: z.string().nullable().describe('its JSON; null: it is not there'),
    candidate: z.string().nullable(),
  }),
);

const caught = z.object({
  by: z.string().nullable().describe('the alarm that stood; null: none, it is missed'),
  delay_ms: z.int().nullable().describe('raised so long after the event began; negative: before'),
});

export const outcomeBody = z.object({
  from: utcSchema,
  to: utcSchema,
  warm_up_from: utcSchema.describe('what was played before `from` begins here'),
  minutes_from: utcSchema.describe('before this only hours are kept'),
  running: z.string().describe('revision of the running configuration'),
  candidate: z.string().describe('revision of the candidate'),
  baseline: settings.describe('changes of what all baselines share'),
  notes: z.array(z.string()),
  conclusion: z.string(),
  alarms: z.array(
    z.object({
      id: z.string(),
      motor: z.string(),
      sensor: z.string().nullable(),
      kind: z.string(),
      notice: z.boolean(),
      not_rehearsed: z.string().describe('why it could not be rehearsed; empty: it was'),
      change: z.object({ what: z.enum(['changed', 'added', 'removed']), settings }).nullable(),
      candidate: tally.nullable().describe('null: not in the candidate, or not rehearsed'),
      running: tally.nullable().describe('null: not in the running configuration, or not rehearsed'),
      journal: tally.describe('what the journal really says'),
      differs: z.boolean().describe('between candidate and running'),
      events: count.describe('of its activations, those that a person acknowledged or confirmed'),
      missed: count.describe('of these, those that the candidate would have missed'),
      journal_differences: z.array(
        z.object({
          what: z.enum(['only-in-journal', 'only-rehearsed', 'another-return']),
          from: utcSchema,
          journal_to: utcOrNull,
          rehearsed_to: utcOrNull,
          reason: z.enum(['live-knew-later', 'another-configuration', 'unexplained']),
          says: z.string(),
        }),
      ),
      conclusion: z.string(),
    }),
  ),
  events: z.array(
    z.object({
      what: z.enum(['acknowledged', 'confirmed', 'finding']),
      alarm: z.string().nullable(),
      sensor: z.string(),
      from: utcSchema,
      to: utcSchema,
      who: z.string(),
      says: z.string(),
      running: caught,
      candidate: caught,
    }),
  ),
});

export const rehearsalBody = z.object({
  id: z.string(),
  state: z.enum(['running', 'done', 'failed', 'cancelled']),
  share: z.number().min(0).max(1).describe('of the time to be played'),
  started_at: utcSchema,
  ended_at: utcOrNull.describe('null: it still runs'),
  failure: z
    .object({ detail: z.string(), hint: z.string() })
    .nullable()
    .describe('why it failed; null: it did not'),
  result: outcomeBody.nullable().describe('null: there is none yet'),
});

export const settingsBody = z.object({
  settings: z.array(
    z.object({
      ...{ alarm: z.string(), motor: z.string(), sensor: z.string() },
      kind: z.enum(['rate-high', 'rate-high-high']),
      ...{ setpoint_per_min: z.number(), deadband_per_min: z.number(), on_delay_ms: ms, off_delay_ms: ms },
    }),
  ),
  next,
});

export const candidateBody = z.object({
  configuration: z.string().describe('text of the configuration file, which names secrets and holds none'),
});

export const rehearsalsBody = z.object({ rehearsals: z.array(rehearsalBody.omit({ result: true })) });

export type SettingsBody = z.output<typeof settingsBody>;
export type OutcomeBody = z.output<typeof outcomeBody>;
export type RehearsalBody = z.output<typeof rehearsalBody>;
