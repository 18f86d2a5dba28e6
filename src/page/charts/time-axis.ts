/**
 * Where a time axis is marked, and how: whole minutes, hours, days, weeks, months and years of the site's calendar, on both
 * nights of the year too in which its clocks change. Pure.
 */
import { formatClock, formatClockSeconds, formatZone } from '../times.js';
import { findClockChanges, localDate, startOfDay } from './site-time.js';

export interface TimeTick {
  readonly at: number;
  /** one or two lines */
  readonly label: string;
}

const SECOND_MS = 1_000;
const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const HALF_HOUR_MS = 30 * MINUTE_MS;

type Unit = 'time' | 'day' | 'month';

interface Step {
  readonly unit: Unit;
  /** ms, days or months */
  readonly size: number;
  /** about how long, ms */
  readonly ms: number;
}

const STEPS: readonly Step[] = [
  ...[SECOND_MS, 5 * SECOND_MS, 10 * SECOND_MS, 30 * SECOND_MS].map(timeStep),
  ...[1, 2, 5, 10, 15, 30].map((minutes) => timeStep(minutes * MINUTE_MS)),
  ...[1, 2, 3, 6, 12].map((hours) => timeStep(hours * HOUR_MS)),
  ...[1, 2, 7, 14].map((days) => ({ unit: 'day' as const, size: days, ms: days * DAY_MS })),
  ...[1, 3, 12, 24, 60, 120].map((months) => ({
    unit: 'month' as const,
    size: months,
    ms: months * 30.4 * DAY_MS,
  })),
];

function timeStep(ms: number): Step {
  return { unit: 'time', size: ms, ms };
}

/** At most `most` marks in [from, to], in order of time. */
export function listTimeTicks(from: number, to: number, zone: string, most: number): TimeTick[] {
  const step = STEPS.find(({ ms }) => (to - from) / ms <= most) ?? STEPS[STEPS.length - 1]!;
  const times = { time: listTimes, day: listDays, month: listMonths }[step.unit](from, to, zone, step.size);
  const changes = findClockChanges(from, to, zone);
  return times.map((at, i) => ({ at, label: nameTick(at, times[i - 1] ?? null, step, zone, changes) }));
}

function listTimes(from: number, to: number, zone: string, stepMs: number): number[] {
  const times: number[] = [];
  // steps of more than half an hour are told by the clock, which a change of it would put out of step
  const walkMs = Math.min(stepMs, HALF_HOUR_MS);
  const first = localDate(from, zone).getTime();
  for (let at = from + (Math.ceil(first / walkMs) * walkMs - first); at <= to; at += walkMs) {
    const clockMs = localDate(at, zone).getTime() % DAY_MS;
    if (clockMs % stepMs === 0) times.push(at);
  }
  return times;
}

function listDays(from: number, to: number, zone: string, step: number): number[] {
  const begin = localDate(from, zone);
  const times: number[] = [];
  for (let i = 0; ; i++) {
    const day = new Date(Date.UTC(begin.getUTCFullYear(), begin.getUTCMonth(), begin.getUTCDate() + i));
    const at = startOfDay(day.getUTCFullYear(), day.getUTCMonth(), day.getUTCDate(), zone);
    if (at > to) return times;
    // weeks begin on Monday, and 5 January 1970 was one; every second day by its number, whatever the month
    const number = day.getTime() / DAY_MS - (step % 7 === 0 ? 4 : 0);
    const isOnStep = number % step === 0;
    if (at >= from && isOnStep) times.push(at);
  }
}

function listMonths(from: number, to: number, zone: string, step: number): number[] {
  const begin = localDate(from, zone);
  const first = Math.floor((begin.getUTCFullYear() * 12 + begin.getUTCMonth()) / step) * step;
  const times: number[] = [];
  for (let month = first; ; month += step) {
    const at = startOfDay(Math.floor(month / 12), month % 12, 1, zone);
    if (at > to) return times;
    if (at >= from) times.push(at);
  }
}

function nameTick(
  at: number,
  before: number | null,
  { unit, size }: Step,
  zone: string,
  changes: readonly number[],
): string {
  const date = localDate(at, zone);
  if (unit === 'month') return size >= 12 ? `${date.getUTCFullYear()}` : nameMonth(date, before === null);
  if (unit === 'day')
    return `${date.getUTCDate()} ${MONTHS[date.getUTCMonth()]!}${nameYear(date, before, zone)}`;
  const clock = size < MINUTE_MS ? formatClockSeconds(at, zone) : formatClock(at, zone);
  // the first mark behind a change of the clocks says which time it is, and the last one before
  const isAtChange = changes.some((change) => Math.abs(at - change) <= Math.max(size, HOUR_MS));
  const named = isAtChange ? `${clock} ${formatZone(at, zone)}` : clock;
  const isNewDay = before === null || localDate(before, zone).getUTCDate() !== date.getUTCDate();
  return isNewDay ? `${named}\n${nameDay(date)}` : named;
}

const MONTHS = 'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split(' ');
const WEEKDAYS = 'Sun Mon Tue Wed Thu Fri Sat'.split(' ');

function nameDay(date: Date): string {
  return `${WEEKDAYS[date.getUTCDay()]!} ${date.getUTCDate()} ${MONTHS[date.getUTCMonth()]!}`;
}

function nameMonth(date: Date, isFirst: boolean): string {
  const month = MONTHS[date.getUTCMonth()]!;
  return isFirst || date.getUTCMonth() === 0 ? `${month}\n${date.getUTCFullYear()}` : month;
}

function nameYear(date: Date, before: number | null, zone: string): string {
  const year = date.getUTCFullYear();
  return before !== null && localDate(before, zone).getUTCFullYear() === year ? '' : `\n${year}`;
}

/** `Europe/London, BST`; with a change of the clocks inside: `Europe/London, BST until 25 Oct, then GMT`. */
export function nameZone(from: number, to: number, zone: string): string {
  const names = [formatZone(from, zone)];
  const changes = findClockChanges(from, to, zone);
  if (changes.length > 2) return `${zone}, ${names[0]!} and ${formatZone(changes[0]!, zone)} by season`;
  const said = changes.map((change) => {
    const date = localDate(change, zone);
    return ` until ${date.getUTCDate()} ${MONTHS[date.getUTCMonth()]!}, then ${formatZone(change, zone)}`;
  });
  return `${zone}, ${names[0]!}${said.join('')}`;
}
