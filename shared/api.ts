/** Bodies that a person's request to the HTTP interface carries. */
import { z } from 'zod';

/** A person acknowledges an alarm: their name or initials, and a note for the journal. */
export const acknowledgeBody = z.strictObject({
  who: z
    .string()
    .trim()
    .min(1, { error: 'expected a name or initials' })
    .max(64)
    .describe('name or initials of the person'),
  note: z.string().trim().max(500).default('').describe('what was seen or done'),
});
export type AcknowledgeBody = z.output<typeof acknowledgeBody>;
