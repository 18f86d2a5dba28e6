/** Geometry of the page's charts without a browser: time axes over clock changes, lanes, spans. */
import { describe, expect, it } from 'vitest';
import { describeBin } from '../../src/page/charts/bin-words.js';
import { pieceAt, placePieces } from '../../src/page/charts/lane-pieces.js';
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
import { seedRandom } from '../support/seeded-random.js';

const DAY_MS = 86_400_000;
const LONDON = 'Europe/London';
const labels = (from: string, to: string, zone: string, most: number): string[] =>
  listTimeTicks(Date.parse(from), Date.parse(to), zone, most).map(({ label }) => label.replace('\n', ' | '));

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
