/**
 * Pages of lists that are at hand as a whole, in the order that they have. A cursor names the last item of its page, and its place for the
 * case that this item is gone meanwhile; what changes its place between two pages may come twice or not at all.
 */
import type { z } from 'zod';
import type { Page } from './deps.js';
import { LIMIT_DEFAULT, pageParameters } from './parameters.js';
import { describeInvalid, ProblemError } from './problem.js';

/** Of a list that is not about a span of time. */
export const listParameters = { limit: pageParameters.limit, cursor: pageParameters.cursor };

interface PageWish {
  readonly limit?: number | undefined;
  readonly cursor?: string | undefined;
}

/** `keyOf` tells the items apart. Throws `ProblemError` for a cursor of none of its pages. */
export function cutPage<T>(items: readonly T[], keyOf: (item: T) => string, wish: PageWish): Page<T> {
  const { limit = LIMIT_DEFAULT, cursor } = wish;
  const from = cursor === undefined ? 0 : findPlace(items, keyOf, cursor);
  const page = items.slice(from, from + limit);
  const last = from + page.length;
  const next = page.length > 0 && last < items.length ? writeCursor(last, keyOf(page.at(-1)!)) : null;
  return { items: page, next };
}

function writeCursor(place: number, key: string): string {
  return Buffer.from(`${place} ${key}`, 'utf8').toString('base64url');
}

function findPlace<T>(items: readonly T[], keyOf: (item: T) => string, cursor: string): number {
  const text = Buffer.from(cursor, 'base64url').toString('utf8');
  const [, place, key] = /^(\d{1,9}) (.*)$/s.exec(text) ?? [];
  if (place === undefined || key === undefined || writeCursor(Number(place), key) !== cursor) {
    const fault = { name: 'cursor', fault: 'it is not the `next` of a page of this list' };
    throw new ProblemError(describeInvalid([fault], 'Begin again without a cursor.'));
  }
  const found = items.findIndex((item) => keyOf(item) === key);
  return found < 0 ? Math.min(Number(place), items.length) : found + 1;
}

export type ListQuery = z.output<z.ZodObject<typeof listParameters>>;
