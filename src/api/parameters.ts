/** Query parameters as zod: what a caller writes in the address, checked and turned into what the reader takes. */
import { z } from 'zod';
import { isTimeMs, parseRfc3339 } from '../../shared/time.js';
import { describeInvalid, ProblemError } from './problem.js';

export const LIMIT_MOST = 1000;
export const LIMIT_DEFAULT = 200;
const NAME = '[a-z0-9][a-z0-9-]{0,39}';

/** RFC 3339 with an offset, or milliseconds since the epoch. */
const timeParameter = z
  .string()
  .meta({
    description: 'RFC 3339 with an offset, or milliseconds since the Unix epoch',
    examples: ['2026-03-01T06:00:00Z', '2026-03-01T06:00:00+05:45', '1772344800000'],
  })
  .transform((text, context) => {
    const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text.replace(' ', '+')); // an unescaped plus arrives as a space
    if (time !== null && isTimeMs(time)) return time;
    const message = `expected a time such as 2026-03-01T06:00:00Z or milliseconds, not "${text}"`;
    context.addIssue({ code: 'custom', message });
    return z.NEVER;
  });

/** Described as the number that it is, not as its text. */
export function wholeNumber(what: string, least: number, most: number, unlessGiven: number) {
  return z
    .string()
    .regex(/^\d{1,4}$/, 'expected a whole number')
    .transform(Number)
    .pipe(z.int().min(least).max(most))
    .default(unlessGiven)
    .meta({
      description: `${what}, ${least} to ${most}; ${unlessGiven} unless given`,
      ...{ type: 'integer', minimum: least, maximum: most, pattern: undefined },
    });
}

export const rangeParameters = {
  from: timeParameter
    .optional()
    .describe('earliest time, included; RFC 3339 with an offset, or ms since 1970'),
  to: timeParameter
    .optional()
    .describe('latest time, not included; RFC 3339 with an offset, or ms since 1970'),
};

export const pageParameters = {
  ...rangeParameters,
  limit: wholeNumber('most rows of a page', 1, LIMIT_MOST, LIMIT_DEFAULT),
  cursor: z.string().max(500).optional().describe('`next` of the page before'),
};

/** Of a list that grows at its end. */
export const orderParameter = z
  .enum(['oldest', 'newest'])
  .default('oldest')
  .describe('which comes first: what was written first, or what was written last');

export const sensorParameter = z
  .string()
  .regex(new RegExp(`^${NAME}/${NAME}$`), 'expected <motor>/<position>, e.g. booster-1/de')
  .optional()
  .describe('<motor>/<position>');

export const motorParameter = z
  .string()
  .regex(new RegExp(`^${NAME}$`), 'expected the name of a motor')
  .optional()
  .describe('<motor>');

export const periodParameter = z.enum(['10s', '1m', '10m', '1h']).optional().describe('1m unless given');

/** Throws `ProblemError` for a span that ends before it begins: nothing lies in it, which must not pass for "nothing was". */
export function checkOrder({ from, to }: { from?: number | undefined; to?: number | undefined }): void {
  if (from === undefined || to === undefined || from <= to) return;
  const fault = { name: 'to', fault: 'it lies before `from`' };
  throw new ProblemError(describeInvalid([fault], 'Give from and to, FROM before TO.'));
}

/** The common part of a page query with its defaults. Throws as `checkOrder` does. */
export function toPageQuery(query: {
  from?: number | undefined;
  to?: number | undefined;
  limit?: number | undefined;
  cursor?: string | undefined;
}): { from: number | null; to: number | null; limit: number; cursor: string | null } {
  checkOrder(query);
  return {
    from: query.from ?? null,
    to: query.to ?? null,
    limit: query.limit ?? LIMIT_DEFAULT,
    cursor: query.cursor ?? null,
  };
}

/** A place in a list that is made up here, as a cursor. */
export function writePlace(text: string): string {
  return Buffer.from(text, 'utf8').toString('base64url');
}

const PLACE_PATTERN = /^[a-z0-9/-]{1,90}$/;

/** '': from the start. Throws `ProblemError` for what `writePlace` did not write. */
export function readPlace(cursor: string | null): string {
  if (cursor === null) return '';
  const text = Buffer.from(cursor, 'base64url').toString('utf8');
  if (PLACE_PATTERN.test(text) && writePlace(text) === cursor) return text;
  const fault = { name: 'cursor', fault: 'it is not the `next` of a page of this list' };
  throw new ProblemError(describeInvalid([fault], 'Begin again without a cursor.'));
}
