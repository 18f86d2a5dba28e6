/**
 * What of a stream is settled at a sink: everything up to `live` but for the gaps, which are sent behind the live entries.
 * Positions are those of the outbox.
 */

/** (after, to] */
export type Gap = readonly [after: number, to: number];

export interface Cursor {
  readonly live: number;
  /** oldest first, apart from one another */
  readonly gaps: readonly Gap[];
}

/** Each outage leaves one gap at most; beyond so many what comes late is sent in its order. */
const GAPS_MAX = 1_000;

/** Entries up to `position` were settled at the live end. */
export function advanceLive(cursor: Cursor, position: number): Cursor {
  return { ...cursor, live: Math.max(cursor.live, position) };
}

/** Entries up to `position` were settled in the oldest gap. */
export function advanceGap(cursor: Cursor, position: number): Cursor {
  const [first, ...rest] = cursor.gaps;
  if (first === undefined) return cursor;
  return {
    ...cursor,
    gaps: position >= first[1] ? rest : [[Math.max(first[0], position), first[1]], ...rest],
  };
}

/** What is not settled up to `position` becomes a gap, and the live end goes on behind it. */
export function leaveBehind(cursor: Cursor, position: number): Cursor {
  if (position <= cursor.live || cursor.gaps.length >= GAPS_MAX) return cursor;
  const gaps = [...cursor.gaps];
  const last = gaps.at(-1);
  if (last?.[1] === cursor.live) gaps[gaps.length - 1] = [last[0], position];
  else gaps.push([cursor.live, position]);
  return { live: position, gaps };
}

/** Everything up to here is settled. */
export function settledTo(cursor: Cursor): number {
  return cursor.gaps[0]?.[0] ?? cursor.live;
}

/** Ranges that are not settled, oldest first; the last one ends at `head`. */
export function openRanges(cursor: Cursor, head: number): Gap[] {
  return [...cursor.gaps, ...(head > cursor.live ? [[cursor.live, head] as const] : [])];
}

/** Positions in the gaps. */
export function countGaps(cursor: Cursor): number {
  return cursor.gaps.reduce((sum, [after, to]) => sum + to - after, 0);
}
