/** Local times on ordinary days, in the two nights in which the clock changes, and in zones that are odd. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { findLocalTime, stampLocal } from '../../src/cli/local-time.js';

const at = (text: string): number => Date.parse(text);

describe('a time of day is the next time that the clock of the site shows it', () => {
  it.each([
    // zone, now, asked, meant
    ['UTC', '2026-03-02T05:59:00Z', '06:00', '2026-03-02T06:00:00Z'],
    ['UTC', '2026-03-02T06:00:00Z', '06:00', '2026-03-03T06:00:00Z'],
    ['Europe/London', '2026-07-01T12:00:00Z', '06:00', '2026-07-02T05:00:00Z'],
    ['Asia/Kathmandu', '2026-07-01T00:14:00Z', '06:00', '2026-07-01T00:15:00Z'],
    ['Pacific/Kiritimati', '2026-07-01T12:00:00Z', '06:00', '2026-07-01T16:00:00Z'],
    // the clock goes forward: 02:30 is missing, which means 02:00, when it becomes 03:00
    ['Europe/Berlin', '2026-03-28T22:00:00Z', '02:30', '2026-03-29T01:00:00Z'],
    ['Europe/Berlin', '2026-03-28T22:00:00Z', '06:00', '2026-03-29T04:00:00Z'],
    // the clock goes back: 02:30 comes twice, and the first that lies ahead is meant
    ['Europe/Berlin', '2026-10-24T22:00:00Z', '02:30', '2026-10-25T00:30:00Z'],
    ['Europe/Berlin', '2026-10-25T00:45:00Z', '02:30', '2026-10-25T01:30:00Z'],
    ['Europe/Berlin', '2026-10-24T20:00:00Z', '06:00', '2026-10-25T05:00:00Z'],
    // half an hour
    ['Australia/Lord_Howe', '2026-10-03T14:00:00Z', '02:15', '2026-10-03T15:30:00Z'],
  ])('%s at %s: %s', (zone, now, asked, meant) => {
    expect(new Date(findLocalTime(asked, zone, at(now))!).toISOString()).toBe(new Date(meant).toISOString());
  });
});

describe('a day and a time', () => {
  const now = at('2026-03-01T00:00:00Z');
  it.each([
    ['2026-03-29T06:00', '2026-03-29T04:00:00Z'],
    ['2026-03-29 02:30', '2026-03-29T01:00:00Z'],
    ['2026-10-25T02:30', '2026-10-25T00:30:00Z'],
    ['2026-10-25T03:00', '2026-10-25T02:00:00Z'],
  ])('%s in Berlin', (asked, meant) => {
    expect(findLocalTime(asked, 'Europe/Berlin', now)).toBe(at(meant));
  });

  it.each([
    '24:00',
    '6:00',
    '06:60',
    '2026-02-30T06:00',
    '2026-13-01T06:00',
    '2026-03-02T06:00:00Z',
    '8h',
    '',
  ])('"%s" is none', (text) => expect(findLocalTime(text, 'Europe/Berlin', now)).toBeNull());
});

it('lies ahead, within a day and the hour of a change, and the clock shows it unless that night skips it', () => {
  const zones = [
    'Europe/Berlin',
    'America/New_York',
    'Australia/Lord_Howe',
    'Asia/Kathmandu',
    'Africa/Casablanca',
  ];
  const minutes = fc.integer({
    min: at('2025-01-01T00:00:00Z') / 60_000,
    max: at('2028-01-01T00:00:00Z') / 60_000,
  });
  const times = fc.tuple(fc.integer({ min: 0, max: 23 }), fc.integer({ min: 0, max: 59 }));
  fc.assert(
    fc.property(fc.constantFrom(...zones), minutes, times, (zone, minute, [hour, min]) => {
      const now = minute * 60_000;
      const asked = `${String(hour).padStart(2, '0')}:${String(min).padStart(2, '0')}`;
      const found = findLocalTime(asked, zone, now)!;
      expect(found).toBeGreaterThan(now);
      expect(found - now).toBeLessThanOrEqual(25 * 3_600_000);
      const clock = { timeZone: zone, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } as const;
      const show = (time: number): string => new Intl.DateTimeFormat('en-GB', clock).format(time);
      // of a time that is skipped: the clock jumps over it in that very minute
      const isSkipped = show(found - 60_000) < asked && show(found) > asked;
      expect(show(found) === asked || isSkipped).toBe(true);
    }),
    { numRuns: 2_000 },
  );
});

it.each([
  ['Europe/London', '2026-10-25T00:30:00Z', '2026-10-25 01:30:00 BST'],
  ['Europe/London', '2026-10-25T01:30:00Z', '2026-10-25 01:30:00 GMT'],
  ['Europe/London', '2026-03-29T01:00:00Z', '2026-03-29 02:00:00 BST'],
  ['Asia/Kathmandu', '2026-03-02T18:15:00Z', '2026-03-03 00:00:00 GMT+5:45'],
  ['UTC', '2026-03-02T00:00:07.900Z', '2026-03-02 00:00:07 UTC'],
])('in %s %s is told as %s', (zone, time, told) => {
  const { day, clock, offset } = stampLocal(at(time), zone);
  expect(`${day} ${clock} ${offset}`).toBe(told);
});
