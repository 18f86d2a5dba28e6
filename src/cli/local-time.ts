/**
 * Times as people at the site say them: by the local clock, without an offset.
 * Why so careful: twice a year a local time is missing or comes twice, and a shelf that ends an hour late hides an alarm for
 * an hour. Where a time comes twice the first that still lies ahead is meant; one that is missing means the moment in which
 * the clock skips it.
 */

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** What such a time has to look like. */
export const LOCAL_TIME_RULE = '06:00 or 2026-03-02T06:00 by the clock of the site';

const SHAPE = /^(?:(\d{4})-(\d\d)-(\d\d)[T ])?([01]\d|2[0-3]):([0-5]\d)$/;

/**
 * The moment meant, ms: `06:00` the next time that the local clock shows it, `2026-03-02T06:00` that day. Null: it is no such
 * text, or a day that its month has not. `zone`: IANA; `now`: ms.
 */
export function findLocalTime(text: string, zone: string, now: number): number | null {
  const parts = SHAPE.exec(text);
  if (parts === null) return null;
  const [, year, month, day, hour, minute] = parts;
  const ofDay = (Number(hour) * 60 + Number(minute)) * MINUTE_MS;
  if (year !== undefined) {
    const midnight = Date.UTC(Number(year), Number(month) - 1, Number(day));
    const isDay = new Date(midnight).toISOString().startsWith(`${year}-${month}-${day}`);
    if (!isDay) return null;
    const moments = momentsOf(midnight + ofDay, zone);
    return moments.find((moment) => moment > now) ?? moments[0]!;
  }
  const today = Math.floor((now + offsetAt(now, zone)) / DAY_MS) * DAY_MS;
  const candidates = [0, 1, 2].flatMap((days) => momentsOf(today + days * DAY_MS + ofDay, zone));
  return candidates.find((moment) => moment > now)!;
}

/** When the local clock shows `wall` (ms as if it were UTC): once, twice, or the moment of the change that skips it. */
function momentsOf(wall: number, zone: string): number[] {
  const offsets = [...new Set([offsetAt(wall - DAY_MS, zone), offsetAt(wall + DAY_MS, zone)])];
  const shown = offsets.map((offset) => wall - offset).filter((at) => at + offsetAt(at, zone) === wall);
  if (shown.length > 0) return shown.sort((a, b) => a - b);
  return [findChange(wall - Math.max(...offsets), wall - Math.min(...offsets), zone)];
}

/** The first minute after `from`, up to `to`, with another offset than that of `from`. */
function findChange(from: number, to: number, zone: string): number {
  const before = offsetAt(from, zone);
  let [low, high] = [from, to];
  while (high - low > MINUTE_MS) {
    const middle = low + Math.floor((high - low) / 2 / MINUTE_MS) * MINUTE_MS;
    if (offsetAt(middle, zone) === before) low = middle;
    else high = middle;
  }
  return high;
}

const formats = new Map<string, Intl.DateTimeFormat>();

/** What the local clock is ahead of UTC, ms. */
function offsetAt(at: number, zone: string): number {
  let format = formats.get(zone);
  if (format === undefined) {
    const fields = { year: 'numeric', month: 'numeric', day: 'numeric' } as const;
    const clock = { hour: 'numeric', minute: 'numeric', second: 'numeric', hourCycle: 'h23' } as const;
    format = new Intl.DateTimeFormat('en-US', { timeZone: zone, era: 'short', ...fields, ...clock });
    formats.set(zone, format);
  }
  const found = new Map(format.formatToParts(at).map(({ type, value }) => [type, Number(value)]));
  const field = (name: Intl.DateTimeFormatPartTypes): number => found.get(name) ?? 0;
  const wall = Date.UTC(
    ...([field('year'), field('month') - 1, field('day')] as const),
    ...([field('hour'), field('minute'), field('second')] as const),
  );
  return wall - Math.floor(at / 1000) * 1000;
}

const stamps = new Map<string, Intl.DateTimeFormat>();

/** A moment as the clock of the site shows it, with the name of its offset: an hour comes twice in one night of the year. */
export interface LocalStamp {
  /** `2026-10-25` */
  readonly day: string;
  /** `01:30:00` */
  readonly clock: string;
  /** `BST`, `GMT+5:45` */
  readonly offset: string;
}

/** `at` in ms; `zone`: IANA. */
export function stampLocal(at: number, zone: string): LocalStamp {
  let format = stamps.get(zone);
  if (format === undefined) {
    const fields = { year: 'numeric', month: '2-digit', day: '2-digit' } as const;
    const clock = { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' } as const;
    format = new Intl.DateTimeFormat('en-GB', { timeZone: zone, ...fields, ...clock, timeZoneName: 'short' });
    stamps.set(zone, format);
  }
  const found = new Map(format.formatToParts(at).map(({ type, value }) => [type, value]));
  const of = (type: Intl.DateTimeFormatPartTypes): string => found.get(type) ?? '';
  return {
    day: `${of('year')}-${of('month')}-${of('day')}`,
    clock: `${of('hour')}:${of('minute')}:${of('second')}`,
    offset: of('timeZoneName'),
  };
}
