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
  .describe('RFC 3339 with an offset, or milliseconds since the Unix epoch')
  .transform((text, context) => {
    const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text.replace(' ', '+')); // an unescaped plus arrives as a space
    if (time !== null && isTimeMs(time)) return time;
    const message = `expected a time such as 2026-03-01T06:00:00Z or milliseconds, not "${text}"`;
    context.addIssue({ code: 'custom', message });
    return z.NEVER;
  });

export const rangeParameters = {
  from: timeParameter.optional().describe('earliest time, included'),
  to: timeParameter.optional().describe('latest time, not included'),
};

export const pageParameters = {
  ...rangeParameters,
  limit: z
    .string()
    .regex(/^\d{1,4}$/, 'expected a whole number')
    .transform(Number)
    .pipe(z.int().min(1).max(LIMIT_MOST))
    .default(LIMIT_DEFAULT)
    .meta({
      description: `most rows of a page, 1 to ${LIMIT_MOST}; ${LIMIT_DEFAULT} unless given`,
      ...{ type: 'integer', minimum: 1, maximum: LIMIT_MOST, pattern: undefined },
    }),
  cursor: z.string().max(500).optional().describe('`next` of the page before'),
};

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

/** The common part of a page query with its defaults. */
export function toPageQuery(query: {
  from?: number | undefined;
  to?: number | undefined;
  limit?: number | undefined;
  cursor?: string | undefined;
}): { from: number | null; to: number | null; limit: number; cursor: string | null } {
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
