/** Bodies that a person's request to the HTTP interface carries: what people do to alarms, with who and why. */
import { z } from 'zod';
import { ALARM_PRIORITIES, ALARM_STATES } from './alarm-terms.js';
import { PICKED_MOST } from './limits.js';
import { NAME_PATTERN } from './names.js';
import { freeText, person } from './person.js';
import { timeSchema } from './time.js';

const note = freeText.default('').describe('what was seen or done');
const why = freeText.min(1, { error: 'expected the reason' }).describe('why');
const name = (what: string) => z.string().regex(NAME_PATTERN, { error: `expected the name of ${what}` });

/** A person acts on an alarm: their name or initials, and a note for the journal. */
export const actBody = z.strictObject({ who: person, note });
export type ActBody = z.output<typeof actBody>;

/** The same where a reason is needed. */
export const reasonedActBody = z.strictObject({ who: person, note: why });
export type ReasonedActBody = z.output<typeof reasonedActBody>;

/** A person shelves an alarm. */
export const shelveBody = z.strictObject({
  who: person,
  note: why,
  until: timeSchema.describe('when the shelf ends, whatever happens'),
  once: z.boolean().default(false).describe('it ends with the next return, if that comes first'),
});
export type ShelveBody = z.output<typeof shelveBody>;

/** Which alarms; what is left out does not narrow. */
export const alarmCriteria = {
  motor: name('a motor').optional(),
  zone: name('a zone').optional().describe('zone of the motor'),
  kind: name('a kind').optional().describe('such as rate-high or no-readings'),
  priority: z.enum(ALARM_PRIORITIES).optional(),
  state: z.enum(ALARM_STATES).optional(),
};

/** A person acknowledges all alarms of a description, or those that were picked. */
export const acknowledgeManyBody = z
  .strictObject({
    ...{ who: person, note, ...alarmCriteria },
    alarms: z
      .array(z.string().min(1).max(121))
      .min(1)
      .max(PICKED_MOST)
      .optional()
      .describe('ids: these and no others, whatever their state; stands alone'),
  })
  .refine((body) => ['alarms', ...Object.keys(alarmCriteria)].some((key) => Object.hasOwn(body, key)), {
    error: `expected alarms, or at least one of ${Object.keys(alarmCriteria).join(', ')}`,
  })
  .refine(
    ({ alarms, ...body }) =>
      alarms === undefined || !Object.keys(alarmCriteria).some((key) => Object.hasOwn(body, key)),
    { error: 'expected either alarms, or what describes them', path: ['alarms'] },
  );
export type AcknowledgeManyBody = z.output<typeof acknowledgeManyBody>;
