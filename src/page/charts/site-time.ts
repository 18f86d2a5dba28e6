/** The calendar of the site's zone: offsets, days and months that are 23 or 25 hours and an hour more or less long. Pure. */

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
/** No zone has ever changed its offset within a quarter of an hour of UTC other than at its beginning. */
const QUARTER_MS = 15 * MINUTE_MS;
const KEPT_MOST = 20_000;

const formatters = new Map<string, Intl.DateTimeFormat>();
const offsets = new Map<string, number>();

function formatterOf(zone: string): Intl.DateTimeFormat {
  let found = formatters.get(zone);
  if (found === undefined) {
    found = new Intl.DateTimeFormat('en-GB', { timeZone: zone, timeZoneName: 'longOffset' });
    formatters.set(zone, found);
  }
  return found;
}

/** What the clocks of the zone are ahead of UTC at a time, ms. `zone`: IANA. */
export function offsetAt(ms: number, zone: string): number {
  const quarter = Math.floor(ms / QUARTER_MS);
  const key = `${quarter} ${zone}`;
  const kept = offsets.get(key);
  if (kept !== undefined) return kept;
  const parts = formatterOf(zone).formatToParts(quarter * QUARTER_MS);
  const name = parts.find(({ type }) => type === 'timeZoneName')?.value ?? 'GMT';
  const found = /([+-])(\d\d):(\d\d)(?::(\d\d))?/.exec(name);
  const [, sign = '+', hours = '0', minutes = '0', seconds = '0'] = found ?? [];
  const size = (Number(hours) * 60 + Number(minutes)) * MINUTE_MS + Number(seconds) * 1_000;
  const offset = sign === '-' ? -size : size;
  if (offsets.size >= KEPT_MOST) offsets.clear();
  offsets.set(key, offset);
  return offset;
}

/** What the clock of the site shows, as if it were UTC: its fields are read with the UTC getters. */
export function localDate(ms: number, zone: string): Date {
  return new Date(ms + offsetAt(ms, zone));
}

/** The moment at which a day of the site's calendar begins; where its midnight is skipped, that in which it is. Months from 0. */
export function startOfDay(year: number, month: number, day: number, zone: string): number {
  return clockMoment(Date.UTC(year, month, day), zone);
}

/** The moments at which the clock shows a time (as if it were UTC), in order: one, two, or of none one as much later as it jumps. */
function clockMoments(shown: number, zone: string): number[] {
  // no zone is more than a day away from UTC
  const offsets = [offsetAt(shown - DAY_MS, zone), offsetAt(shown + DAY_MS, zone)];
  const guesses = offsets.map((offset) => shown - offset);
  const exact = guesses.filter((guess) => guess + offsetAt(guess, zone) === shown);
  return exact.length > 0 ? [...new Set(exact)].sort((a, b) => a - b) : [Math.max(...guesses)];
}

function clockMoment(shown: number, zone: string): number {
  return clockMoments(shown, zone)[0]!;
}

/** Start of the day of the site that holds a time. */
export function dayOf(ms: number, zone: string): number {
  const date = localDate(ms, zone);
  return startOfDay(date.getUTCFullYear(), date.getUTCMonth(), date.getUTCDate(), zone);
}

/** Times in [from, to) at which the clocks of the zone change, in order; looked for hour by hour only where they differ. */
export function findClockChanges(from: number, to: number, zone: string): number[] {
  const changes: number[] = [];
  // zones change a few times a year: a stretch of a week has one change at most
  for (let begin = from; begin < to; begin += 7 * DAY_MS) {
    const end = Math.min(to, begin + 7 * DAY_MS);
    if (offsetAt(begin, zone) === offsetAt(end, zone)) continue;
    let low = begin;
    let high = end;
    while (high - low > 1) {
      const middle = Math.floor((low + high) / 2);
      if (offsetAt(middle, zone) === offsetAt(begin, zone)) low = middle;
      else high = middle;
    }
    if (high < to) changes.push(high);
  }
  return changes;
}

/** The moments at which the site's clock shows `2026-03-02T06:00`, in order: two where it shows it twice. */
export function momentsOf(local: string, zone: string): number[] {
  return clockMoments(Date.parse(`${local}Z`), zone);
}

/** The moment at which the site's clock shows `2026-03-02T06:00`; the first, where it shows it twice. */
export function momentOf(local: string, zone: string): number {
  return clockMoment(Date.parse(`${local}Z`), zone);
}
