/**
 * What people enter about a motor: maintenance actions and findings of inspections, as they are sent and as they are told.
 * An entry can be withdrawn, with who and why; it is never changed or erased. Times: either form in, RFC 3339 out.
 */
import { z } from 'zod';
import { FAILURE_MODE_NAMES, LUBRICANT_CONDITIONS, VISIBLE_SIGNS } from './inspection-terms.js';
import { ACTION_KINDS, BEARING_KINDS, BEARING_WORK, BOTH_ENDS } from './maintenance-terms.js';
import { NAME_PATTERN, NAME_RULE } from './names.js';
import { freeText, person } from './person.js';
import { timeSchema, utcSchema } from './time.js';

const MANY_MAX = 8;

const note = freeText.default('').describe('free text');
const place = z.string().regex(NAME_PATTERN, { error: `expected ${NAME_RULE}` });
const when = timeSchema.optional().describe('when it was done; now unless given');
const motor = z.string().regex(NAME_PATTERN);

function several<T extends readonly [string, ...string[]]>(words: T, alone: string) {
  return z
    .array(z.enum(words))
    .max(MANY_MAX)
    .refine((found) => new Set(found).size === found.length, { error: 'a word is given twice' })
    .refine((found) => found.length < 2 || !(found as string[]).includes(alone), {
      error: `"${alone}" stands alone`,
    });
}

const modes = several(FAILURE_MODE_NAMES, 'none').describe('failure modes; empty: not judged');
const signs = several(VISIBLE_SIGNS, 'none').describe('visible signs; empty: not looked for');
const lubricant = several(LUBRICANT_CONDITIONS, 'fresh').describe('the lubricant; empty: not looked at');

/** A person enters what was done to a motor. */
export const actionRequest = z
  .strictObject({
    action: z.enum(ACTION_KINDS).describe('what was done'),
    end: place.nullable().default(null).describe('de, nde, both or a position; null: the whole motor'),
    bearing: z.enum(BEARING_KINDS).nullable().default(null).describe('what a bearing was replaced by'),
    at: when,
    by: person,
    note,
  })
  .superRefine((entry, context) => {
    const refuse = (path: string, message: string): void =>
      context.addIssue({ code: 'custom', path: [path], message });
    const isReplacement = entry.action === 'bearing-replaced';
    if (BEARING_WORK.includes(entry.action) && entry.end === null)
      refuse('end', `${entry.action} has to say which end: de, nde or both`);
    if (isReplacement && entry.bearing === null)
      refuse('bearing', `expected what it was replaced by: ${BEARING_KINDS.join(', ')}`);
    if (!isReplacement && entry.bearing !== null)
      refuse('bearing', `only bearing-replaced has one, not ${entry.action}`);
    if (entry.action === 'other' && entry.note === '')
      refuse('note', '"other" says nothing without a note of what was done');
  });
export type ActionRequest = z.output<typeof actionRequest>;

/** A person enters what an inspection of one bearing found. */
export const findingRequest = z
  .strictObject({
    end: place.describe('de, nde or a position: the bearing that was looked at'),
    removed: z
      .boolean()
      .default(false)
      .describe(
        'true: it was the bearing taken out at the last replacement (up to a day later), not the one that runs now',
      ),
    at: when,
    by: person,
    modes: modes.default([]),
    signs: signs.default([]),
    lubricant: lubricant.default([]),
    note,
  })
  .superRefine((entry, context) => {
    if (entry.end === BOTH_ENDS)
      context.addIssue({ code: 'custom', path: ['end'], message: 'a finding is of one bearing: de or nde' });
    const said = entry.modes.length + entry.signs.length + entry.lubricant.length;
    if (said === 0 && entry.note === '')
      context.addIssue({
        code: 'custom',
        path: ['modes'],
        message: 'it says nothing: give modes, signs, lubricant or a note',
      });
  });
export type FindingRequest = z.output<typeof findingRequest>;

/** A person takes an entry back. The entry stays, marked. */
export const withdrawRequest = z.strictObject({
  by: person,
  note: freeText.min(1).describe('why'),
});
export type WithdrawRequest = z.output<typeof withdrawRequest>;

const withdrawal = z
  .object({ at: utcSchema, by: z.string(), note: z.string() })
  .nullable()
  .describe('null: it stands');

const entry = {
  id: z.int().min(1).describe('of the entry; actions and findings share one row of numbers'),
  motor,
  at: utcSchema.describe('when it was done or seen'),
  entered_at: utcSchema.describe('when it was entered'),
  by: z.string(),
  note: z.string(),
  withdrawn: withdrawal,
};

export const actionSchema = z
  .object({
    ...entry,
    action: z.enum(ACTION_KINDS),
    end: place.nullable().describe('null: the whole motor'),
    bearing: z.enum(BEARING_KINDS).nullable(),
    breaks_comparability: z
      .enum(['nothing', 'place', 'motor'])
      .describe('whose counts before it are no yardstick for those after it'),
    is_remedy: z.boolean().describe('whether before and after it are worth comparing'),
  })
  .describe('Something done to a motor, its drive or its sensors');
export type ActionBody = z.output<typeof actionSchema>;

export const findingSchema = z
  .object({ ...entry, end: place, removed: z.boolean(), modes, signs, lubricant })
  .describe('What an inspection of one bearing found. What a person saw, not what the gateway concludes');
export type FindingBody = z.output<typeof findingSchema>;
