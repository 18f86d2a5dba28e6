/** Geometry of the page's charts without a browser: time axes over clock changes, lanes, spans. */
import { describe, expect, it } from 'vitest';
import { describeBin } from '../../src/page/charts/bin-words.js';
import { pieceAt, placePieces } from '../../src/page/charts/lane-pieces.js';
import { findClockChanges, localDate, offsetAt, startOfDay } from '../../src/page/charts/site-time.js';
import {
  endNow,
  isAtNow,
  isEnough,
  keepInTime,
  loadingSpan,
  moveSpan,
  zoomSpan,
} from '../../src/page/charts/span.js';
import { listTimeTicks, nameZone } from '../../src/page/charts/time-axis.js';
import { spanOfDay } from '../../src/page/motor/day-span.js';
import { latestLocal, readEntryMoment, writeLocal } from '../../src/page/motor/entry-moment.js';
import { seedRandom } from '../support/seeded-random.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const LONDON = 'Europe/London';
const labels = (from: string, to: string, zone: string, most: number): string[] =>
  listTimeTicks(Date.parse(from), Date.parse(to), zone, most).map(({ label }) => label.replace('\n', ' | '));

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

describe('a time axis', () => {
  it('marks whole hours of the clock, and tells the hour twice that comes twice', () => {
    expect(labels('2026-10-24T22:30:00Z', '2026-10-25T03:30:00Z', LONDON, 8)).toEqual([
      '00:00 | Sun 25 Oct',
      '01:00 BST',
      '01:00 GMT',
      '02:00 GMT',
      '03:00',
    ]);
  });

  it('leaves out the hour that there is not', () => {
    expect(labels('2026-03-29T00:00:00Z', '2026-03-29T03:30:00Z', LONDON, 4)).toEqual([
      '00:00 GMT | Sun 29 Mar',
      '02:00 BST',
      '03:00 BST',
      '04:00',
    ]);
  });

  it('steps of several hours stay on the clock over a change', () => {
    const found = labels('2026-10-24T00:00:00Z', '2026-10-26T12:00:00Z', LONDON, 12);
    expect(found.every((label) => /^(00|06|12|18):00/.test(label))).toBe(true);
  });

  it('marks quarters of hours at +05:45, days, weeks, months and years', () => {
    expect(labels('2026-03-02T00:00:00Z', '2026-03-02T01:00:00Z', 'Asia/Kathmandu', 5)).toEqual([
      '05:45 | Mon 2 Mar',
      '06:00',
      '06:15',
      '06:30',
      '06:45',
    ]);
    expect(labels('2026-03-02T00:00:00Z', '2026-03-06T00:00:00Z', LONDON, 5).at(-1)).toBe('6 Mar');
    expect(labels('2026-01-01T00:00:00Z', '2026-12-31T00:00:00Z', LONDON, 13)).toHaveLength(12);
    // eight weeks on a small picture: Mondays a fortnight apart, on the clocks' change too
    expect(labels('2026-03-01T00:00:00Z', '2026-04-26T00:00:00Z', LONDON, 5)).toEqual([
      ...['2 Mar | 2026', '16 Mar', '30 Mar', '13 Apr'],
    ]);
    expect(labels('2020-01-01T00:00:00Z', '2026-12-31T00:00:00Z', LONDON, 8)).toEqual([
      '2020',
      '2021',
      '2022',
      '2023',
      '2024',
      '2025',
      '2026',
    ]);
  });

  it('has marks in order, inside, and no more than asked for, whatever the span', () => {
    const random = seedRandom(11);
    for (let round = 0; round < 300; round++) {
      const from = Date.UTC(2015 + Math.floor(random() * 15), 0, 1) + Math.floor(random() * 365 * DAY_MS);
      const to = from + 60_000 + Math.floor(10 ** (random() * 6) * 60_000);
      const zone = [LONDON, 'Asia/Kathmandu', 'America/St_Johns', 'Australia/Lord_Howe', 'UTC'][round % 5]!;
      const ticks = listTimeTicks(from, to, zone, 9);
      expect(ticks.length).toBeLessThanOrEqual(10);
      ticks.forEach(({ at }, i) => {
        expect(at).toBeGreaterThanOrEqual(from);
        expect(at).toBeLessThanOrEqual(to);
        if (i > 0) expect(at).toBeGreaterThan(ticks[i - 1]!.at);
      });
    }
  });

  it('names the zone, with the change where there is one', () => {
    const name = (from: string, to: string) => nameZone(Date.parse(from), Date.parse(to), LONDON);
    expect(name('2026-07-01T00:00:00Z', '2026-07-02T00:00:00Z')).toBe('Europe/London, BST');
    expect(name('2026-10-24T00:00:00Z', '2026-10-26T00:00:00Z')).toBe(
      'Europe/London, BST until 25 Oct, then GMT',
    );
    expect(name('2024-10-24T00:00:00Z', '2026-10-26T00:00:00Z')).toContain('by season');
  });
});

describe('lanes', () => {
  it('are never more rectangles than pixels could show, and show the shortest piece', () => {
    const pieces = Array.from({ length: 20_000 }, (_, i) => ({
      from: i * 10,
      to: i * 10 + 4,
      kind: 'start',
    }));
    const rects = placePieces(pieces, (at) => at / 200, 1_000, 2);
    expect(rects).toEqual([{ x: 0, width: 1_000, kind: 'start' }]);
    const one = placePieces([{ from: 500, to: 501, kind: 'a' }], (at) => at / 100, 1_000, 2);
    expect(one).toEqual([{ x: 5, width: 2, kind: 'a' }]);
    expect(placePieces([{ from: -500, to: -1, kind: 'a' }], (at) => at, 100, 0)).toEqual([]);
  });

  it('the piece under the cursor is the last that began', () => {
    const pieces = [
      { from: 0, to: 10 },
      { from: 5, to: 8 },
    ];
    expect([pieceAt(pieces, 6), pieceAt(pieces, 9), pieceAt(pieces, 11), pieceAt(pieces, 11, 2)]).toEqual([
      pieces[1],
      pieces[0],
      null,
      pieces[0],
    ]);
  });
});

describe('a span', () => {
  const now = Date.UTC(2026, 5, 1);
  const day = endNow(DAY_MS, now);

  it('zooming keeps what is under the pointer, and its length within bounds', () => {
    const at = day.from + 0.25 * (day.to - day.from);
    const zoomed = zoomSpan(day, at, 2, now);
    expect((at - zoomed.from) / (zoomed.to - zoomed.from)).toBeCloseTo(0.25, 5);
    expect(zoomed.to - zoomed.from).toBeCloseTo((day.to - day.from) / 2, -1);
    expect(zoomSpan(day, at, 1e9, now).to - zoomSpan(day, at, 1e9, now).from).toBe(60_000);
    expect(zoomSpan(day, at, 1e-9, now).to).toBeLessThanOrEqual(now + 0.02 * 31 * 366 * DAY_MS);
  });

  it.each([60_000, 3_600_000, 29_400_033, DAY_MS, 7 * DAY_MS, 5 * 365 * DAY_MS])(
    'of %d ms that follows the time keeps its length at each step',
    (length) => {
      let span = endNow(length, now);
      for (let second = 1; second <= 200; second++) {
        span = endNow(span.to - span.from, now + 1_000 * second + second);
        expect(span.to - span.from).toBe(length);
        expect(isAtNow(span, now + 1_000 * second)).toBe(true);
      }
    },
  );

  it('moving never goes far beyond now, nor before 1970', () => {
    const later = moveSpan(day, 5, now);
    expect(later.to).toBeLessThanOrEqual(now + 0.021 * DAY_MS);
    expect(later.to - later.from).toBe(day.to - day.from);
    expect(keepInTime({ from: -9e9, to: -8e9 }, now).from).toBe(0);
    expect(moveSpan(moveSpan(day, -3, now), -0.5, now).to).toBeLessThan(day.from);
  });

  it('what was loaded is enough until the edge, or a closer look', () => {
    const loaded = loadingSpan(day);
    expect(isEnough(loaded, day, now)).toBe(true);
    expect(isEnough(loaded, moveSpan(day, -0.4, now), now)).toBe(true);
    expect(isEnough(loaded, moveSpan(day, -0.6, now), now)).toBe(false);
    expect(isEnough(loaded, zoomSpan(day, now, 3, now), now)).toBe(false);
  });
});

it('bins are told in words with units', () => {
  expect(describeBin('speed 600..1200, load ..50')).toBe('speed 600 to 1200 rpm, load below 50 %');
  expect(describeBin('temperature -5.., dc-link ?')).toBe('temperature -5 °C and above, dc-link not known');
  expect(describeBin('all')).toBe('all conditions');
});
