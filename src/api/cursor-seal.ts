/**
 * Cursors say of which list they are. What a list writes as `next` names only a place, and one of another list, of other filters, or one
 * that somebody changed would begin somewhere without a word: rows missing that nobody misses.
 */
import { createHash } from 'node:crypto';
import { describeInvalid, ProblemError } from './problem.js';

const MARK_LENGTH = 8;

/** `list`: address and filters. No secret: it keeps from slips, whoever may read the list may read all of it. */
export function sealCursor(place: string, list: string): string {
  return `${markOf(place, list)}${place}`;
}

/** The place that `sealCursor` was given. Throws `ProblemError` for a cursor that it did not make for this list. */
export function openCursor(cursor: string, list: string): string {
  const place = cursor.slice(MARK_LENGTH);
  if (sealCursor(place, list) === cursor) return place;
  const fault = {
    name: 'cursor',
    fault: 'it is not the `next` of a page of this list with these parameters',
  };
  throw new ProblemError(
    describeInvalid([fault], 'Keep the other parameters from page to page, or begin again without a cursor.'),
  );
}

/** What a list is called: its address, and what it was asked beside page and place. */
export function nameList(path: string, params: object, query: object): string {
  const filters = { ...query, limit: undefined, cursor: undefined };
  return JSON.stringify([path, params, filters]);
}

function markOf(place: string, list: string): string {
  return createHash('sha256').update(`${list}\n${place}`).digest('base64url').slice(0, MARK_LENGTH);
}
