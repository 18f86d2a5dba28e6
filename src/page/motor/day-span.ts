/** A day of the site's calendar as a span of the chart. Pure. */
import { startOfDay } from '../charts/site-time.js';
import type { Span } from '../charts/span.js';
import { DAY_MS, HOUR_MS } from '../times.js';

/** The longest day there is: the clocks go back. A span up to this long becomes the day itself. */
const LONG_DAY_MS = DAY_MS + HOUR_MS;

/**
 * `day`: `2026-03-02`. `lengthMs`: of the span that is shown; one that is longer than a day keeps its length about the day's middle.
 * Null: that is no day, or one before 1970.
 */
export function spanOfDay(day: string, lengthMs: number, zone: string): Span | null {
  const [year, month, date] = day.split('-').map(Number);
  if (year === undefined || month === undefined || date === undefined || !(year >= 1970)) return null;
  const from = startOfDay(year, month - 1, date, zone);
  const to = startOfDay(year, month - 1, date + 1, zone);
  if (lengthMs <= LONG_DAY_MS) return { from, to };
  const middle = (from + to) / 2;
  return { from: middle - lengthMs / 2, to: middle + lengthMs / 2 };
}
