/** The stretch of time of a report: hours back, days, weeks and shifts of the site's calendar, or what was typed. Pure. */
import { dayOf, localDate, momentOf, momentsOf, startOfDay } from '../charts/site-time.js';
import { DAY_MS, HOUR_MS, formatExact } from '../times.js';

export interface ReportSpan {
  readonly from: number;
  readonly to: number;
}

export const SPAN_CHOICES = {
  'hours-8': 'The last 8 hours',
  'hours-12': 'The last 12 hours',
  'hours-24': 'The last 24 hours',
  shift: 'The last shift (ends 06, 14, 22 h)',
  yesterday: 'Yesterday',
  'this-week': 'This week, from Monday',
  'last-week': 'Last week, Monday to Sunday',
  'days-30': 'The last 30 days',
  'days-90': 'The last 90 days',
  typed: 'From … to …',
} as const;
export type SpanChoice = keyof typeof SPAN_CHOICES;

/** Ends of shifts on the site's clock. Common practice, no source; others are typed. */
const SHIFT_HOURS = [6, 14, 22];
const LEAST_MS = 60_000;
const MINUTE_MS = 60_000;
/** A report of more than a year has more in it than a sheet can show. */
export const SPAN_MOST_MS = 366 * DAY_MS;

export function isSpanChoice(text: string): text is SpanChoice {
  return Object.hasOwn(SPAN_CHOICES, text);
}

/** The day of the site `days` before or after the one that holds a time. */
function dayBeside(ms: number, days: number, zone: string): number {
  const date = localDate(ms, zone);
  return startOfDay(date.getUTCFullYear(), date.getUTCMonth(), date.getUTCDate() + days, zone);
}

function mondayOf(ms: number, zone: string): number {
  const weekday = (localDate(ms, zone).getUTCDay() + 6) % 7;
  return dayBeside(ms, -weekday, zone);
}

/** Every end of a shift from two days ago on, in order of time. */
function listShiftEnds(now: number, zone: string): number[] {
  return [-2, -1, 0].flatMap((days) => {
    const date = localDate(dayBeside(now, days, zone) + HOUR_MS / 2, zone);
    const day = date.toISOString().slice(0, 10);
    return SHIFT_HOURS.map((hour) => momentOf(`${day}T${String(hour).padStart(2, '0')}:00`, zone));
  });
}

/** `now` by the gateway's clock. Whole minutes, so that an address opened again means the same. */
export function spanOf(choice: Exclude<SpanChoice, 'typed'>, now: number, zone: string): ReportSpan {
  const minute = Math.floor(now / MINUTE_MS) * MINUTE_MS;
  const today = dayOf(now, zone);
  switch (choice) {
    case 'yesterday':
      return { from: dayBeside(now, -1, zone), to: today };
    case 'this-week':
      return { from: mondayOf(now, zone), to: Math.max(minute, mondayOf(now, zone) + LEAST_MS) };
    case 'last-week': {
      const monday = mondayOf(now, zone);
      return { from: dayBeside(monday, -7, zone), to: monday };
    }
    case 'shift': {
      const ends = listShiftEnds(now, zone).filter((end) => end <= now);
      return { from: ends.at(-2)!, to: ends.at(-1)! };
    }
    case 'hours-8':
    case 'hours-12':
    case 'hours-24':
      return { from: minute - Number(choice.slice(6)) * HOUR_MS, to: minute };
    case 'days-30':
    case 'days-90':
      return { from: minute - Number(choice.slice(5)) * DAY_MS, to: minute };
  }
}

const TYPED = /^\d{4}-\d\d-\d\dT\d\d:\d\d$/;

/**
 * What was typed on the site's clock, such as `2026-03-02T06:00`; null: not a span. In the night in which the clocks go back a time of the
 * clock is two: the span begins with the first and ends with the second, unless that is still to come, so that it holds what was meant.
 */
export function typedSpan(from: string, to: string, zone: string, now: number): ReportSpan | null {
  if (![from, to].every((each) => TYPED.test(each) && !Number.isNaN(Date.parse(`${each}Z`)))) return null;
  const ends = momentsOf(to, zone);
  const span = { from: momentOf(from, zone), to: ends.filter((end) => end <= now).at(-1) ?? ends[0]! };
  return checkSpan(span) ? span : null;
}

/** From the address: ms since the epoch; null: not a span that a report can be of. */
export function readSpan(from: string | null, to: string | null): ReportSpan | null {
  if (from === null || to === null || !/^\d{1,15}$/.test(from) || !/^\d{1,15}$/.test(to)) return null;
  const span = { from: Number(from), to: Number(to) };
  return checkSpan(span) ? span : null;
}

function checkSpan({ from, to }: ReportSpan): boolean {
  return Number.isFinite(from) && Number.isFinite(to) && to - from >= LEAST_MS && to - from <= SPAN_MOST_MS;
}

/** For a field of the kind `datetime-local`. */
export function toLocalField(ms: number, zone: string): string {
  return localDate(ms, zone).toISOString().slice(0, 16);
}

export function saySpan({ from, to }: ReportSpan, zone: string): string {
  return `${formatExact(from, zone)} to ${formatExact(to, zone)}`;
}
