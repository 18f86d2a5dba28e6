import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  EARLIEST_MS,
  formatUtc,
  formatUtcOrNull,
  LATEST_MS,
  parseRfc3339,
  readTime,
  timeSchema,
  utcSchema,
} from '../../shared/time.js';
import { takeRecord, title } from '../published/published.js';

const published = takeRecord<
  { strings: string[] },
  { epoch_ms: number[]; equivalents: Record<string, string> }
>('O01-rfc3339-examples');

describe(title(published), () => {
  test.each(published.inputs.strings.map((text, i) => [text, published.expected.epoch_ms[i]]))(
    '%s is %d ms',
    (text, ms) => {
      expect(parseRfc3339(String(text))).toBe(ms);
    },
  );

  test.each(Object.entries(published.expected.equivalents))('%s is the same as %s', (text, other) => {
    expect(parseRfc3339(text)).toBe(parseRfc3339(other));
  });

  // Section 5.8 also writes one leap second in two zones.
  test.each(['1990-12-31T23:59:60Z', '1990-12-31T15:59:60-08:00'])('%s is the next second', (text) => {
    expect(parseRfc3339(text)).toBe(Date.UTC(1991, 0, 1));
  });
});

test.each([
  ['2024-02-29T00:00:00Z', Date.UTC(2024, 1, 29)],
  ['2000-02-29T00:00:00Z', Date.UTC(2000, 1, 29)],
  ['2026-03-02T06:10:10z', Date.UTC(2026, 2, 2, 6, 10, 10)],
  ['2026-03-02t06:10:10.5+05:45', Date.UTC(2026, 2, 2, 0, 25, 10, 500)],
  ['2026-03-02T06:10:10.123999Z', Date.UTC(2026, 2, 2, 6, 10, 10, 123)],
  ['2026-03-02T06:10:10-00:00', Date.UTC(2026, 2, 2, 6, 10, 10)],
  ['1969-12-31T23:59:59.999Z', -1],
  ['0000-01-01T00:00:00Z', EARLIEST_MS],
  ['9999-12-31T23:59:59.999Z', LATEST_MS],
])('%s is %d ms', (text, ms) => {
  expect(parseRfc3339(text)).toBe(ms);
  expect(readTime(text)).toBe(ms);
  expect(timeSchema.parse(text)).toBe(ms);
});

test.each([
  '2026-02-30T00:00:00Z',
  '2026-02-29T00:00:00Z',
  '1900-02-29T00:00:00Z',
  '2026-04-31T00:00:00Z',
  '2026-13-01T00:00:00Z',
  '2026-00-10T00:00:00Z',
  '2026-01-00T00:00:00Z',
  '2026-01-01T24:00:00Z',
  '2026-01-01T10:60:00Z',
  '2026-01-01T10:00:61Z',
  '2026-03-02T12:00:60Z',
  '2026-12-30T23:59:60Z',
  '2026-12-31T23:59:60+01:00',
  '2026-01-01T10:00:00',
  '2026-01-01T10:00:00+1:00',
  '2026-01-01T10:00:00+0100',
  '2026-01-01T10:00:00+24:00',
  '2026-01-01T10:00:00.Z',
  '2026-01-01T10:00Z',
  '2026-01-01',
  '2026-01-01 10:00:00Z',
  ' 2026-01-01T10:00:00Z',
  '2026-01-01T10:00:00Z\n',
  '1772431210000',
  '0000-01-01T00:00:00+01:00',
  `2026-01-01T10:00:00.${'0'.repeat(80)}Z`,
  '',
])('%j is no time', (text) => {
  expect(parseRfc3339(text)).toBeNull();
  expect(readTime(text)).toBeNull();
  expect(timeSchema.safeParse(text).success).toBe(false);
});

test.each([0.5, Number.NaN, Infinity, EARLIEST_MS - 1, LATEST_MS + 1, true, null, {}, [0]])(
  '%s is no time',
  (found) => {
    expect(readTime(found)).toBeNull();
    expect(timeSchema.safeParse(found).success).toBe(false);
  },
);

test('what is written is read back, and the built-in parser agrees where it is strict enough', () => {
  fc.assert(
    fc.property(fc.integer({ min: EARLIEST_MS, max: LATEST_MS }), (ms) => {
      const text = formatUtc(ms);
      expect(text).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/);
      expect(parseRfc3339(text)).toBe(ms);
      expect(Date.parse(text)).toBe(ms);
      expect(utcSchema.safeParse(text).success).toBe(true);
      expect(timeSchema.parse(ms)).toBe(ms);
    }),
  );
});

test('an offset shifts by itself, whatever the time', () => {
  const minute = fc.integer({ min: -1439, max: 1439 });
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 4e12 }), minute, (ms, offset) => {
      const sign = offset < 0 ? '-' : '+';
      const size = Math.abs(offset);
      const zone = `${sign}${String(Math.trunc(size / 60)).padStart(2, '0')}:${String(size % 60).padStart(2, '0')}`;
      expect(parseRfc3339(formatUtc(ms).replace('Z', zone))).toBe(ms - offset * 60_000);
    }),
  );
});

test('a number that is no time is not written', () => {
  for (const ms of [0.5, Number.NaN, LATEST_MS + 1]) expect(() => formatUtc(ms)).toThrow(RangeError);
  expect(formatUtcOrNull(null)).toBeNull();
  expect(formatUtcOrNull(0)).toBe('1970-01-01T00:00:00.000Z');
});
