/** Days of the site's calendar. The two in a year in which the clock changes have 23 and 25 hours. */
import type { CalendarDay } from '../../advice/alarm-load.js';
import { findLocalTime } from '../local-time.js';

const DAY_MS = 86_400_000;

/** The days that overlap `[from, to)`, in order, whole. `zone`: IANA. A day that the calendar of the zone skipped is left out. */
export function listSiteDays(from: number, to: number, zone: string): CalendarDay[] {
  const days: CalendarDay[] = [];
  // no zone is more than a day away from UTC
  for (let utc = Math.floor(from / DAY_MS) - 1; utc * DAY_MS < to + DAY_MS; utc++) {
    const date = dateOf(utc);
    const day = { date, from: midnightOf(date, zone), to: midnightOf(dateOf(utc + 1), zone) };
    if (day.from < day.to && day.to > from && day.from < to) days.push(day);
  }
  return days;
}

function dateOf(utcDay: number): string {
  return new Date(utcDay * DAY_MS).toISOString().slice(0, 10);
}

/** Where the clock shows midnight twice, the first; where it skips it, the moment in which it does. */
function midnightOf(date: string, zone: string): number {
  return findLocalTime(`${date}T00:00`, zone, -Infinity)!;
}
