/**
 * Times on the wire: integer milliseconds since the Unix epoch, or RFC 3339 text with an offset; always written as
 * RFC 3339 with milliseconds and Z.
 * Why an own parser: the one built into the language takes 30 February and times without offset, and refuses the
 * leap second.
 * Source: RFC 3339 (2002), sections 5.6 and 5.7.
 */
import { z } from 'zod';

const SHAPE =
  /^(\d{4})-(\d\d)-(\d\d)[Tt]([01]\d|2[0-3]):([0-5]\d):([0-5]\d|60)(?:\.(\d+))?(?:[Zz]|([+-])([01]\d|2[0-3]):([0-5]\d))$/;

/** 0000-01-01T00:00:00.000Z and 9999-12-31T23:59:59.999Z: what RFC 3339 can write. Beyond them a time is no time. */
export const EARLIEST_MS = -62_167_219_200_000;
export const LATEST_MS = 253_402_300_799_999;

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
/** Longest text taken; nine digits of a second would need 35. */
const LENGTH_MAX = 64;

/** What a time has to look like, for messages about one that does not. */
export const TIME_RULE =
  'a time: integer milliseconds since 1970 UTC, or RFC 3339 text with an offset such as 2026-03-02T06:00:10.000Z';

/**
 * Milliseconds since the epoch; null: not RFC 3339, a day that its month has not, or a time without an offset.
 * Digits beyond the millisecond are cut off. A leap second is the first second of the following day, as in POSIX time,
 * and is taken only at the end of a month, UTC, the only place where one can be.
 */
export function parseRfc3339(text: string): number | null {
  if (text.length > LENGTH_MAX) return null;
  const parts = SHAPE.exec(text);
  if (parts === null) return null;
  const [, year, month, day, hour, minute, second, fraction, sign, offsetHour, offsetMinute] = parts;
  const midnight = startOfDay(Number(year), Number(month), Number(day));
  if (midnight === null) return null;
  const offsetMin = sign === undefined ? 0 : Number(offsetHour) * 60 + Number(offsetMinute);
  const seconds = Number(second);
  const minutes = Number(hour) * 60 + Number(minute) - (sign === '-' ? -offsetMin : offsetMin);
  const minuteStart = midnight + minutes * MINUTE_MS;
  if (seconds === 60 && !endsMonth(minuteStart)) return null;
  const ms = minuteStart + seconds * 1000 + (fraction === undefined ? 0 : milliseconds(fraction));
  return isTimeMs(ms) ? ms : null;
}

/** Times as they were written lately: records of one minute have three of them in common, over all sensors. */
const written = new Map<number, string>();
const WRITTEN_MAX = 64;

/** RFC 3339 with milliseconds and Z. Expects an integer that `isTimeMs` accepts; throws `RangeError` on others. */
export function formatUtc(ms: number): string {
  const known = written.get(ms);
  if (known !== undefined) return known;
  if (!isTimeMs(ms)) throw new RangeError(`no time that RFC 3339 can write: ${ms}`);
  const text = new Date(ms).toISOString();
  if (written.size >= WRITTEN_MAX) written.clear();
  written.set(ms, text);
  return text;
}

/** The same, null for null: not known. */
export function formatUtcOrNull(ms: number | null): string | null {
  return ms === null ? null : formatUtc(ms);
}

/** An integer within the years 0 to 9999. */
export function isTimeMs(ms: number): boolean {
  return Number.isSafeInteger(ms) && ms >= EARLIEST_MS && ms <= LATEST_MS;
}

/** What came as JSON, as milliseconds; null: it is no time. */
export function readTime(found: unknown): number | null {
  if (typeof found === 'number') return isTimeMs(found) ? found + 0 : null;
  return typeof found === 'string' ? parseRfc3339(found) : null;
}

/** A time from the field: either form in, milliseconds out. */
export const timeSchema = z
  .union(
    [
      z
        .int({ error: TIME_RULE })
        .min(EARLIEST_MS, { error: TIME_RULE })
        .max(LATEST_MS, { error: TIME_RULE })
        .describe('milliseconds since 1970-01-01T00:00:00Z'),
      z
        .string({ error: TIME_RULE })
        .max(LENGTH_MAX, { error: TIME_RULE })
        .refine((text) => parseRfc3339(text) !== null, { error: TIME_RULE })
        .meta({ format: 'date-time', description: 'RFC 3339, with an offset' }),
    ],
    { error: TIME_RULE },
  )
  .transform((found) => (typeof found === 'number' ? found + 0 : (parseRfc3339(found) ?? Number.NaN)));

/** A time as the gateway writes it. */
export const utcSchema = z
  .string()
  .regex(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/)
  .refine((text) => parseRfc3339(text) !== null)
  .meta({ format: 'date-time', description: 'RFC 3339, milliseconds, Z' });

function startOfDay(year: number, month: number, day: number): number | null {
  if (month < 1 || month > 12 || day < 1 || day > daysOf(year, month)) return null;
  // A leap year of the same calendar, because years below 100 mean 1900 and later here.
  const shift = year < 400 ? 400 : 0;
  return Date.UTC(year + shift, month - 1, day) - (shift === 0 ? 0 : 146_097 * DAY_MS);
}

function daysOf(year: number, month: number): number {
  if (month === 2) return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
  return month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
}

function endsMonth(minuteStart: number): boolean {
  const next = new Date(minuteStart + MINUTE_MS);
  return next.getUTCDate() === 1 && next.getUTCHours() === 0 && next.getUTCMinutes() === 0;
}

/** The first three digits of a fraction of a second. */
function milliseconds(fraction: string): number {
  return Number(fraction.slice(0, 3).padEnd(3, '0'));
}
