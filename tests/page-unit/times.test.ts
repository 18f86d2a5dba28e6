/** Times, spans and rates as people read them, without a browser. */
import { describe, expect, it } from 'vitest';
import { formatExact, formatMoment, formatPeriod, formatRate, formatSpan } from '../../src/page/times.js';

const AT = Date.UTC(2026, 2, 3, 12, 0, 0);

describe('times', () => {
  it('tell the two hours apart that a clock change shows twice', () => {
    const first = Date.UTC(2026, 9, 25, 0, 30);
    expect(formatMoment(first, first, 'Europe/London')).toBe('01:30 BST');
    expect(formatMoment(first + 3_600_000, first, 'Europe/London')).toBe('01:30 GMT');
  });

  it('name the day where it is another, and the year where it is another', () => {
    expect(formatMoment(AT - 86_400_000, AT, 'UTC')).toBe('Mon 2 Mar, 12:00 UTC');
    expect(formatMoment(AT - 366 * 86_400_000, AT, 'UTC')).toBe('Sun 2 Mar 2025, 12:00 UTC');
    expect(formatExact(AT, 'Asia/Kathmandu')).toBe('Tue 3 Mar 2026, 17:45:00 GMT+5:45');
  });

  it('a stretch names the days of both its ends unless it lies within one', () => {
    const [day, hour] = [86_400_000, 3_600_000];
    const said = (from: number, to: number): string =>
      formatPeriod(AT + from, AT + to, AT, 'UTC').join(' to ');
    expect(said(-2 * day, -hour)).toBe('Sun 1 Mar, 12:00 UTC to Tue 3 Mar, 11:00 UTC');
    expect(said(-2 * day, -2 * day + hour)).toBe('Sun 1 Mar, 12:00 UTC to 13:00 UTC');
    expect(said(-hour, 0)).toBe('11:00 UTC to 12:00 UTC');
    expect(said(-hour, day)).toBe('Tue 3 Mar, 11:00 UTC to Wed 4 Mar, 12:00 UTC');
    expect(said(-100 * day, 0)).toBe('Sun 23 Nov 2025, 12:00 UTC to Tue 3 Mar 2026, 12:00 UTC');
  });

  it('no rate is a dash and zero is zero; spans are never negative', () => {
    expect([formatRate(null), formatRate(0), formatRate(0.5), formatRate(12.34), formatRate(1234)]).toEqual([
      '–',
      '0',
      '0.5',
      '12.3',
      '1,234',
    ]);
    expect([formatSpan(-5), formatSpan(89_000), formatSpan(5_400_000), formatSpan(12_000_000)]).toEqual([
      '0 s',
      '89 s',
      '1 h 30 min',
      '3 h 20 min',
    ]);
  });
});
