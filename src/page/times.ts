/**
 * Times as people of the site read them. All of them are shown in the site's zone, with the zone's name beside them
 * where a time stands alone; the names of the zone tell the two hours apart that a clock change shows twice.
 */

export const SECOND_MS = 1_000;
export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

const formatters = new Map<string, Intl.DateTimeFormat>();

/** Formatters are costly to make and few. */
function formatterOf(zone: string, name: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = `${zone} ${name}`;
  let found = formatters.get(key);
  if (found === undefined) {
    found = new Intl.DateTimeFormat('en-GB', { timeZone: zone, ...options });
    formatters.set(key, found);
  }
  return found;
}

/** `14:03` */
export function formatClock(ms: number, zone: string): string {
  return formatterOf(zone, 'clock', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(ms);
}

/** `14:03:27` */
export function formatClockSeconds(ms: number, zone: string): string {
  return formatterOf(zone, 'seconds', {
    ...{ hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' },
  }).format(ms);
}

/** `Tue 3 Mar 2026` */
export function formatDay(ms: number, zone: string): string {
  return formatterOf(zone, 'day', { weekday: 'short', day: 'numeric', month: 'short', year: 'numeric' })
    .format(ms)
    .replace(',', '');
}

/** `GMT`, `BST`, `GMT+5:45`: as the zone is called at that moment. */
export function formatZone(ms: number, zone: string): string {
  const parts = formatterOf(zone, 'zone', { timeZoneName: 'short' }).formatToParts(ms);
  return parts.find(({ type }) => type === 'timeZoneName')?.value ?? zone;
}

/** The clock alone for today, otherwise day and clock, the year only where it is another; with the zone's short name. */
export function formatMoment(ms: number, nowMs: number, zone: string): string {
  const clock = `${formatClock(ms, zone)} ${formatZone(ms, zone)}`;
  if (isSameDay(ms, nowMs, zone)) return clock;
  const day = formatDay(ms, zone);
  const year = / \d{4}$/;
  const isThisYear = year.exec(day)?.[0] === year.exec(formatDay(nowMs, zone))?.[0];
  return `${isThisYear ? day.replace(year, '') : day}, ${clock}`;
}

/** Begin and end of a stretch: the days of both unless it lies within one, because "to 15:00" behind another day is read as of that day. */
export function formatPeriod(from: number, to: number, nowMs: number, zone: string): [string, string] {
  const isWithinDay = isSameDay(from, to, zone);
  const begin = formatMoment(from, isSameDay(from, nowMs, zone) && !isWithinDay ? to : nowMs, zone);
  return [begin, formatMoment(to, from, zone)];
}

/** Day, clock to the second and zone. */
export function formatExact(ms: number, zone: string): string {
  return `${formatDay(ms, zone)}, ${formatClockSeconds(ms, zone)} ${formatZone(ms, zone)}`;
}

export function isSameDay(a: number, b: number, zone: string): boolean {
  return formatDay(a, zone) === formatDay(b, zone);
}

/** `45 s`, `12 min`, `3 h 20 min`, `5 days`; never negative. */
export function formatSpan(ms: number): string {
  const seconds = Math.max(0, Math.round(ms / SECOND_MS));
  if (seconds < 90) return `${seconds} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 90) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 10) return minutes % 60 === 0 ? `${hours} h` : `${hours} h ${minutes % 60} min`;
  if (hours < 48) return `${Math.round(minutes / 60)} h`;
  return `${Math.round(minutes / 1440)} days`;
}

/** Running time beside others of its kind: in hours from two days on, where days would hide how much it is. `96 h`, `1 234 h`. */
export function formatRunning(ms: number): string {
  return ms < 2 * DAY_MS ? formatSpan(ms) : `${formatCount(ms / HOUR_MS)} h`;
}

/** Smallest rate that is written out; a lower limit from few pulses can lie far below it. Our choice. */
export const RATE_LEAST = 1e-6;

/**
 * A rate or its limit: three figures that count, never with an exponent, and never "0" for what is not zero. Null: a dash, which is not
 * zero.
 */
export function formatRate(value: number | null): string {
  if (value === null) return '–';
  if (value > 0 && value < RATE_LEAST) return '< 0.000001';
  const rounded = Number(value.toPrecision(3));
  if (rounded >= 100) return formatCount(Math.round(value));
  if (rounded >= 10) return value.toFixed(1);
  return rounded >= 1 ? value.toFixed(2) : rounded.toString();
}

/** `12,345`, as the sentences of the gateway write it. */
export function formatCount(value: number): string {
  return Math.round(value)
    .toString()
    .replace(/\B(?=(\d{3})+$)/g, ',');
}
