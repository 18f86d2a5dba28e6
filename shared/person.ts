/** Who did it and why, as people type them: the same rules wherever somebody enters something. */
import { z } from 'zod';

/** Longest free text of an entry, in characters. */
export const NOTE_LENGTH_MAX = 500;

/** Terminals obey control characters, and no store keeps lone halves of a surrogate pair as they are. */
const PLAIN_PATTERN = /^[^\p{Cc}\p{Cs}]*$/u;
const NOTE_PATTERN = /^(?:[^\p{Cc}\p{Cs}]|[\n\t])*$/u;
const PLAIN_RULE = 'expected text without control characters';

export const person = z
  .string()
  .trim()
  .min(1, { error: 'expected a name or initials' })
  .max(64)
  .regex(PLAIN_PATTERN, { error: PLAIN_RULE })
  .describe('name or initials of the person');
export const freeText = z.string().trim().max(NOTE_LENGTH_MAX).regex(NOTE_PATTERN, { error: PLAIN_RULE });
