/** Bodies of guided commissioning: a run of steps at one motor, what each step showed, and the result that is kept. */
import { z } from 'zod';
import { RUN_STATES, STEP_KINDS, VERDICT_STATES } from '../advice/commissioning.js';
import { NAME_PATTERN } from '../../shared/names.js';
import { freeText, person } from '../../shared/person.js';
import { utcSchema } from '../../shared/time.js';

const count = z.int().min(0);
const utcOrNull = utcSchema.nullable();
const motor = z.string().regex(NAME_PATTERN, 'expected the name of a motor');
const note = freeText.default('').describe('what was seen or done');

export const beginRunRequest = z.strictObject({ motor, who: person, note });
export const endRunRequest = z.strictObject({ who: person, note });

export const beginStepRequest = z.strictObject({
  who: person,
  step: z
    .enum(STEP_KINDS)
    .describe(
      'start: start the motor now; stop: stop it now; check: make sparks near one sensor now, at standstill',
    ),
  sensor: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}\/[a-z0-9][a-z0-9-]{0,39}$/, 'expected <motor>/<position>')
    .optional()
    .describe('of a check: which sensor'),
});

const heard = z.object({
  sensor: z.string(),
  motor: z.string(),
  own: z.boolean().describe('a sensor of the motor that is commissioned'),
  pulses: count.describe('of the increments that end within the span'),
  ms: count.describe('time of those increments; 0: no reading covers it'),
  expected: z
    .number()
    .min(0)
    .nullable()
    .describe('pulses expected from the 10 min before; null: nothing before'),
  heard: z.boolean().describe('more than chance allows beside the 10 min before (one-sided, p < 0.001)'),
  covered: z.boolean().describe('its readings reach the end of the span'),
});

const verdict = z.object({
  state: z
    .enum(VERDICT_STATES)
    .describe('waiting: not decided yet; doubtful: it went through, and somebody should look at it'),
  says: z.string(),
  todo: z.string(),
  span: z
    .object({ from: utcSchema, to: utcSchema })
    .nullable()
    .describe('what was counted; null: nothing yet'),
  drives: z
    .array(z.object({ motor: z.string(), at: utcSchema, state: z.string(), modulating: z.boolean() }))
    .describe('drive messages since the step began, of this motor and of others that changed'),
  sensors: z.array(heard).describe('own sensors first, then the others that heard most'),
});

const step = z.object({
  step: z.enum(STEP_KINDS),
  sensor: z.string().nullable().describe('of a check; null: another step'),
  begun_at: utcSchema,
  begun_by: z.string(),
  ended_at: utcOrNull.describe(
    'when the next step or the end of the run froze it; null: it is the present one',
  ),
  verdict,
});

export const runBody = z
  .object({
    id: z.int().min(1),
    motor,
    state: z.enum(RUN_STATES).describe('incomplete: ended with steps left out or undecided'),
    opened_at: utcSchema,
    opened_by: z.string(),
    closed_at: utcOrNull,
    closed_by: z.string(),
    note: z.string(),
    configuration: z.string().describe('revision of the configuration in force when it was opened'),
    says: z.string().describe('the result, or how far it is, in a sentence'),
    next: z
      .object({ step: z.enum(STEP_KINDS), sensor: z.string().nullable(), says: z.string() })
      .nullable()
      .describe('what to do next; null: every step is done, or the run is closed'),
    steps: z.array(step).describe('in the order in which they were begun; of a repeated one the last counts'),
    cautions: z.array(z.object({ id: z.string(), text: z.string(), source: z.string() })),
  })
  .describe('Commissioning of one motor');

export const runsBody = z.object({
  runs: z.array(runBody.omit({ steps: true, cautions: true, next: true })),
  next: z.string().nullable().describe('give it as `cursor` to get the next page; null: this is the last'),
});

export type RunBody = z.output<typeof runBody>;
