/**
 * When something was done, from a field that holds a minute of the site's clock. In the night in which the clocks go back a minute of
 * the field is two; what the field began with is known as a moment, and what somebody typed is taken as the first of the two. Pure.
 */
import { findClockChanges, localDate, momentOf } from '../charts/site-time.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
/** No zone has set its clocks by more since fields have been typed into. */
const REPEATED_MS_MOST = 3 * HOUR_MS;

/** `2026-03-02T06:00` of the site's clock. */
export function writeLocal(ms: number, zone: string): string {
  return localDate(ms, zone).toISOString().slice(0, 16);
}

/** `typed`: empty for now. `begunAt`: the moment that the field began with. Never later than `now`; whole minutes, unless it is now. */
export function readEntryMoment(typed: string, begunAt: number, zone: string, now: number): number {
  if (typed === '') return Math.floor(now);
  const isUntouched = typed === writeLocal(begunAt, zone);
  const at = isUntouched ? Math.floor(begunAt / MINUTE_MS) * MINUTE_MS : momentOf(typed, zone);
  // a minute typed as "now" may lie a few seconds ahead of the gateway's clock
  return Math.floor(Math.min(at, now));
}

/** The latest minute that the field takes: of now, or where the clocks have gone back just now, the last one before they did. */
export function latestLocal(now: number, zone: string): string {
  const changes = findClockChanges(now - REPEATED_MS_MOST, now, zone);
  const ends = [now + MINUTE_MS, ...changes.map((change) => change - MINUTE_MS)];
  return ends.map((each) => writeLocal(each, zone)).reduce((a, b) => (a > b ? a : b));
}
