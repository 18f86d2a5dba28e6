/** When things happen: at random so often a day, and at the minutes that the scenario names. */
import type { Random } from './random.js';

/** Half-open, milliseconds since the epoch. */
export interface Interval {
  readonly from: number;
  readonly to: number;
}

export interface Happenings {
  readonly perDay: number;
  readonly atMinutes: readonly number[];
}

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** Ascending times within the span; whole milliseconds. */
export function drawTimes(random: Random, wish: Happenings, span: Interval): number[] {
  const times = wish.atMinutes.map((minute) => Math.round(span.from + minute * MINUTE_MS));
  if (wish.perDay > 0) {
    const meanMs = DAY_MS / wish.perDay;
    let at = span.from + random.exponential(meanMs);
    for (; at < span.to; at += random.exponential(meanMs)) times.push(Math.floor(at));
  }
  return times.filter((at) => at >= span.from && at < span.to).sort((a, b) => a - b);
}

/**
 * Stretches that begin at such times. Those drawn at random last half to one and a half times `lengthMs`, those named
 * exactly that long. Ascending; stretches that meet are one.
 */
export function drawIntervals(
  random: Random,
  wish: Happenings,
  span: Interval,
  lengthMs: number,
): Interval[] {
  const named = drawTimes(random, { perDay: 0, atMinutes: wish.atMinutes }, span).map((from) => ({
    from,
    to: from + Math.round(lengthMs),
  }));
  const drawn = drawTimes(random, { perDay: wish.perDay, atMinutes: [] }, span).map((from) => ({
    from,
    to: from + Math.round(lengthMs * random.between(0.5, 1.5)),
  }));
  return joinIntervals([...named, ...drawn]);
}

/** Ascending, apart, none empty. */
export function joinIntervals(intervals: readonly Interval[]): Interval[] {
  const joined: { from: number; to: number }[] = [];
  const sorted = intervals.filter(({ from, to }) => to > from).sort((a, b) => a.from - b.from);
  for (const { from, to } of sorted) {
    const last = joined[joined.length - 1];
    if (last !== undefined && from <= last.to) last.to = Math.max(last.to, to);
    else joined.push({ from, to });
  }
  return joined;
}

/** Walks forward through ascending intervals: is this time in one? Ask with times that never fall. */
export function openIntervalCursor(intervals: readonly Interval[]): (at: number) => Interval | null {
  let index = 0;
  return (at) => {
    while (index < intervals.length && intervals[index]!.to <= at) index += 1;
    const interval = intervals[index];
    return interval !== undefined && interval.from <= at ? interval : null;
  };
}
