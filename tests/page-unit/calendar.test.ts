/** Days, hours and moments by the calendar of the site, over changes of its clocks, without a browser. */
import { describe, expect, it } from 'vitest';
import { findClockChanges, localDate, offsetAt, startOfDay } from '../../src/page/charts/site-time.js';
import { spanOfDay } from '../../src/page/motor/day-span.js';
import { latestLocal, readEntryMoment, writeLocal } from '../../src/page/motor/entry-moment.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const LONDON = 'Europe/London';

describe('the calendar of the site', () => {
  it('knows zones at odd offsets, and days of 23 and 25 hours', () => {
    expect(offsetAt(Date.parse('2026-01-01T00:00:00Z'), 'Asia/Kathmandu')).toBe(5.75 * HOUR_MS);
    expect(offsetAt(Date.parse('2026-07-01T00:00:00Z'), 'America/St_Johns')).toBe(-2.5 * HOUR_MS);
    const length = (month: number, day: number): number =>
      (startOfDay(2026, month, day + 1, LONDON) - startOfDay(2026, month, day, LONDON)) / HOUR_MS;
    expect([length(2, 28), length(2, 29), length(9, 25)]).toEqual([24, 23, 25]);
  });

  it('a day whose midnight is skipped begins where it is', () => {
    // the clocks of Cairo went from 24:00 to 01:00 on the last Friday of April 2024
    const at = startOfDay(2024, 3, 26, 'Africa/Cairo');
    expect(new Date(at).toISOString()).toBe('2024-04-25T22:00:00.000Z');
    expect(localDate(at, 'Africa/Cairo').getUTCHours()).toBe(1);
  });

  it('finds both changes of a year, to the millisecond', () => {
    const found = findClockChanges(Date.UTC(2026, 0, 1), Date.UTC(2027, 0, 1), LONDON);
    expect(found.map((at) => new Date(at).toISOString())).toEqual([
      '2026-03-29T01:00:00.000Z',
      '2026-10-25T01:00:00.000Z',
    ]);
    expect(findClockChanges(0, DAY_MS * 400, 'UTC')).toEqual([]);
  });
});

describe('a day that is chosen', () => {
  const told = (day: string, lengthMs: number): string | null => {
    const span = spanOfDay(day, lengthMs, LONDON);
    return span && `${new Date(span.from).toISOString()} ${new Date(span.to).toISOString()}`;
  };

  it('is shown whole, with its 23 or 25 hours', () => {
    expect(told('2026-10-25', 8 * HOUR_MS)).toBe('2026-10-24T23:00:00.000Z 2026-10-26T00:00:00.000Z');
    expect(told('2026-10-26', 25 * HOUR_MS)).toBe('2026-10-26T00:00:00.000Z 2026-10-27T00:00:00.000Z');
    expect(told('2026-03-29', DAY_MS)).toBe('2026-03-29T00:00:00.000Z 2026-03-29T23:00:00.000Z');
  });

  it('is the middle of a span that is longer; and what is no day changes nothing', () => {
    expect(told('2026-06-10', 3 * DAY_MS)).toBe('2026-06-08T23:00:00.000Z 2026-06-11T23:00:00.000Z');
    expect([told('', DAY_MS), told('1969-12-31', DAY_MS)]).toEqual([null, null]);
  });
});

describe('the time of an entry', () => {
  // the clocks of London go back at 01:00 UTC: 01:30 is shown at 00:30 and at 01:30 UTC
  const second = Date.parse('2026-10-25T01:30:20Z');
  const first = Date.parse('2026-10-25T00:30:00Z');

  it('is the moment that the field began with while nobody has touched it, in an hour shown twice too', () => {
    const shown = writeLocal(second, LONDON);
    expect(shown).toBe('2026-10-25T01:30');
    expect(readEntryMoment(shown, second, LONDON, second + 90_000)).toBe(second - 20_000);
    expect(readEntryMoment(shown, first, LONDON, first + 90_000)).toBe(first);
  });

  it('is what was typed, the first of two; never later than now; and now where nothing is typed', () => {
    expect(readEntryMoment('2026-10-25T01:30', second + HOUR_MS, LONDON, second + HOUR_MS)).toBe(first);
    expect(readEntryMoment('2026-10-25T01:40', second, LONDON, second)).toBe(first + 600_000);
    expect(readEntryMoment('2026-03-02T06:01', 0, 'UTC', Date.parse('2026-03-02T06:00:30Z'))).toBe(
      Date.parse('2026-03-02T06:00:30Z'),
    );
    expect(readEntryMoment('', 0, LONDON, second + 0.7)).toBe(second);
  });

  it('may be one of the hour before the clocks went back, as long as the clock shows less', () => {
    expect(latestLocal(second, LONDON)).toBe('2026-10-25T01:59');
    expect(latestLocal(second + 2 * HOUR_MS, LONDON)).toBe('2026-10-25T03:31');
    expect(latestLocal(Date.parse('2026-03-29T01:10:00Z'), LONDON)).toBe('2026-03-29T02:11');
  });
});
