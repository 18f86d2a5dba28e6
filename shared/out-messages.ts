/**
 * Messages to everyone: what the gateway publishes under `<site>/out/`.
 * Times are RFC 3339 with milliseconds and Z. Null means not known, never zero. Rates are pulses per minute of running
 * exposure. Receivers must bear fields that they do not know.
 */
import { z } from 'zod';
import { ALARM_PRIORITIES, ALARM_STATES, HELD_BY, JOURNAL_CHANGES, JOURNAL_KINDS } from './alarm-terms.js';
import { LEDGER_CLASS_NAMES, QUALITIES, TOLD_RUN_STATES, type LedgerClassName } from './ledger-terms.js';
import { NAME_PATTERN, parseSensorKey } from './names.js';
import { utcSchema } from './time.js';
import { PERIODS } from './topics.js';

const count = z.int().min(0);
const nameField = z.string().regex(NAME_PATTERN);
const sensorField = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,39}\/[a-z0-9][a-z0-9-]{0,39}$/)
  .refine((key) => parseSensorKey(key) !== null)
  .describe('<motor>/<position>');
const rateField = z.number().min(0).nullable();

const classSums = z.object({
  pulses: count,
  ms: count.describe('exposure of the class, milliseconds'),
});

const byClass = Object.fromEntries(LEDGER_CLASS_NAMES.map((name) => [name, classSums])) as Record<
  LedgerClassName,
  typeof classSums
>;

export const classesSchema = z
  .object(byClass)
  .describe('pulses and milliseconds of each of the seven classes; their sum is everything that was counted');

export const gatewayPresenceSchema = z
  .object({
    online: z.boolean(),
    at: utcSchema.describe(
      'when the gateway came up, went down, took a new configuration, or a flood began or ended',
    ),
    version: z.string().describe('version of the program'),
    configuration: z.string().describe('revision of the configuration in force'),
    flood_since: utcSchema
      .nullable()
      .describe('since when more alarms come than a person can answer; null: no flood'),
  })
  .describe('Whether the gateway is there, and whether it floods its operators');

export const rateSchema = z
  .object({
    sensor: sensorField,
    window: z
      .object({
        start: utcSchema,
        end: utcSchema,
        classes: classesSchema,
        uncertain_ms: count.describe('milliseconds whose time is uncertain'),
      })
      .describe('the last base window of 10 s that is final'),
    from: utcSchema.describe('where the trailing running exposure begins'),
    to: utcSchema,
    pulses: count.describe('running pulses'),
    exposure_ms: count.describe('running exposure, milliseconds; at most ten minutes'),
    rate_per_min: rateField.describe('null: no running exposure'),
    lower_per_min: rateField.describe('lower limit, 95 %'),
    upper_per_min: rateField.describe('upper limit, 95 %'),
    dispersion: z.number().min(1).describe('how much burstier than independent events; 1: not at all'),
    quality: z.enum(QUALITIES),
  })
  .describe('Running rate of a sensor, now');

const binsSchema = z
  .array(
    z.object({
      bin: z
        .string()
        .describe(
          'what was alike, such as "speed 600..1200, load ..50"; mixed: it changed within an increment',
        ),
      pulses: count,
      ms: count,
    }),
  )
  .describe(
    'running pulses and milliseconds by condition bin, which add up to those of the class; absent: one bin, "all"',
  );

export const rollupSchema = z
  .object({
    sensor: sensorField,
    period: z.enum(PERIODS),
    start: utcSchema,
    end: utcSchema,
    revision: count.describe('a record with a higher revision replaces this one'),
    classes: classesSchema,
    rate_per_min: rateField.describe('running pulses over running exposure; null: no running exposure'),
    uncertain_ms: count.describe('milliseconds whose time is uncertain'),
    bins: binsSchema.optional(),
  })
  .describe('Sums over a period; sensor, period and start identify it');

export const evidenceSchema = z
  .object({
    from: utcSchema,
    to: utcSchema,
    pulses: count,
    exposure_ms: count,
    rate_per_min: rateField,
    lower_per_min: rateField,
    upper_per_min: rateField,
    dispersion: z.number().min(1).nullable().describe('of the counts; null: nothing was compared'),
    confidence: z
      .number()
      .min(0)
      .max(1)
      .nullable()
      .describe('of the limits, two-sided; null: there are none'),
    setpoint_per_min: rateField,
    deadband_per_min: rateField,
    on_delay_ms: count,
    off_delay_ms: count,
    run_states: z.array(
      z.object({ from: utcSchema, to: utcSchema, state: z.enum(TOLD_RUN_STATES), modulating: z.boolean() }),
    ),
    configuration: z.string().describe('revision of the configuration it was decided under'),
    says: z.string().describe('the evidence in one sentence'),
  })
  .describe('What a transition of an alarm was decided on');

export const alarmSchema = z
  .object({
    id: z.string().describe('<motor>.<alarm>'),
    motor: nameField,
    alarm: nameField,
    sensor: sensorField.nullable().describe('null: the alarm is not of one sensor'),
    kind: z.string(),
    priority: z.enum(ALARM_PRIORITIES),
    state: z.enum(ALARM_STATES),
    active: z.boolean().describe('whether the condition stands'),
    acknowledged: z.boolean(),
    confirmed: z.boolean().describe('the corrective action was taken; true while none is asked for'),
    latched: z.boolean(),
    shelved_until: utcSchema.nullable().describe('null: not shelved'),
    shelved_once: z.boolean().describe('the shelf ends with the next return, if that comes first'),
    shelved_by: z.string(),
    shelved_why: z.string(),
    suppressed_by: z.string().nullable().describe('the rule of the design that hides it; null: none'),
    out_of_service: z.boolean(),
    out_of_service_by: z.string(),
    out_of_service_why: z.string(),
    held_by: z
      .enum(HELD_BY)
      .nullable()
      .describe('why nothing can be said of the condition now; null: it is looked at'),
    grouped_under: z
      .string()
      .nullable()
      .describe('id of the alarm that stands for it; null: it speaks for itself'),
    annunciated_at: utcSchema.nullable().describe('when this activation was announced; null: it was not'),
    since: utcSchema.nullable().describe('last change of `active`; null: never raised'),
    acknowledged_by: z.string(),
    confirmed_by: z.string(),
    note: z.string(),
    consequence: z.string().describe('what happens if nobody acts'),
    action: z.string().describe('what the operator is asked to do'),
    rationale: z.string().describe('why there is this alarm, and why at this setpoint'),
    class: z.string().describe('alarms that the site treats alike, such as condition or instrument'),
    time_to_respond_ms: count
      .nullable()
      .describe('within which the action should begin; null: the site states none'),
    evidence: evidenceSchema.nullable(),
  })
  .describe('State of an alarm');

export const journalSchema = z
  .object({
    at: utcSchema.describe('when it happened'),
    detected_at: utcSchema.describe('when the gateway knew'),
    kind: z.enum(JOURNAL_KINDS),
    subject: z.string(),
    from: z.string().describe('state before'),
    to: z.string().describe('state after'),
    who: z.string().describe('empty: the gateway itself'),
    text: z.string(),
    what: z.enum(JOURNAL_CHANGES).describe('what changed; empty: nothing that has a word of its own'),
    annunciated: z.boolean().describe('whether the operator was told of it'),
    configuration: z.string().describe('revision in force'),
    evidence: evidenceSchema.nullable(),
  })
  .describe('One entry of the journal');

export type GatewayPresenceMessage = z.output<typeof gatewayPresenceSchema>;
export type ClassesBody = z.output<typeof classesSchema>;
export type RateMessage = z.output<typeof rateSchema>;
export type RollupMessage = z.output<typeof rollupSchema>;
export type EvidenceBody = z.output<typeof evidenceSchema>;
export type AlarmMessage = z.output<typeof alarmSchema>;
export type JournalMessage = z.output<typeof journalSchema>;
