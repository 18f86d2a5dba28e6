/** Answers in pages: each ends with a cursor; given back, it continues behind the last item. */
import { StoreError } from './store-error.js';

export interface Page<T> {
  readonly items: readonly T[];
  /** null: there is no more */
  readonly next: string | null;
}

/** `from` inclusive, `to` exclusive, in ms; null: unbounded. */
export interface PageQuery {
  readonly from: number | null;
  readonly to: number | null;
  /** items of a page, at least 1 */
  readonly limit: number;
  /** null: from the start */
  readonly cursor: string | null;
}

/** Of rows that are numbered as they are written: the first written or the last one first. Absent: `oldest`. */
export interface OrderedQuery extends PageQuery {
  readonly order?: 'oldest' | 'newest';
}

export const FIRST = Number.MIN_SAFE_INTEGER;
export const LAST = Number.MAX_SAFE_INTEGER;

type Place = readonly (number | string)[];

/** A place inside an ordered list as opaque text. */
export function toCursor(...place: Place): string {
  return Buffer.from(JSON.stringify(place)).toString('base64url');
}

/** `start` when the cursor is null; a place has its length and its types. Throws StoreError for a cursor that is not ours. */
export function fromCursor<P extends Place>(cursor: string | null, start: P): P {
  if (cursor === null) return start;
  try {
    const place: unknown = JSON.parse(Buffer.from(cursor, 'base64url').toString());
    if (
      Array.isArray(place) &&
      place.length === start.length &&
      start.every((each, i) => typeof each === typeof place[i])
    )
      return place as unknown as P;
  } catch {
    // said below
  }
  throw new StoreError('missing', 'the cursor is not one of ours', 'start again without a cursor', false);
}

/** A page of items that were asked for with `limit`. */
export function toPage<T>(items: readonly T[], limit: number, placeOf: (last: T) => Place): Page<T> {
  const last = items[items.length - 1];
  return { items, next: last === undefined || items.length < limit ? null : toCursor(...placeOf(last)) };
}

/** The place that such rows begin behind, and how SQL says it. Throws as `fromCursor` does. */
export function beginById({ order = 'oldest', cursor }: Pick<OrderedQuery, 'order' | 'cursor'>): {
  readonly after: number;
  readonly isBehind: string;
  readonly inOrder: string;
} {
  const isNewest = order === 'newest';
  const [after] = fromCursor<[number]>(cursor, [isNewest ? LAST : 0]);
  return {
    after,
    isBehind: isNewest ? 'id < ?' : 'id > ?',
    inOrder: isNewest ? 'ORDER BY id DESC' : 'ORDER BY id',
  };
}

/** The cursor behind rows that begin with their number and were asked for with `limit`; null: there are no more. */
export function nextById(rows: readonly (readonly unknown[])[], limit: number): string | null {
  const last = rows[rows.length - 1];
  return last === undefined || rows.length < limit ? null : toCursor(last[0] as number);
}
