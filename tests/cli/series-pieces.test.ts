/** Limits over longer pieces of a series against the same sums done by hand. */
import { describe, expect, it } from 'vitest';
import type { SeriesPoint } from '../../src/api/charts-reader.js';
import { choosePieceMs, listPieces, PIECES_MOST } from '../../src/cli/query/series-pieces.js';
import { poissonLimits } from '../../src/stats/poisson.js';
import { seedRandom } from '../support/seeded-random.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const FROM = Date.UTC(2026, 2, 2, 5, 7);
const OPTIONS = { confidence: 0.95, deadTimeS: 0 };

/** Minutes of which a fifth ran not at all. */
function drawPoints(random: () => number, count: number): SeriesPoint[] {
  return Array.from({ length: count }, (_, i) => {
    const ms = random() < 0.2 ? 0 : 1_000 * Math.ceil(60 * random());
    const start = FROM + i * MINUTE_MS;
    return {
      ...{ start, end: start + MINUTE_MS, pulses: ms === 0 ? 0 : Math.floor(400 * random()), ms },
      ...{ mean: null, least: null, most: null, lower: null, upper: null, baseline: null },
      ...{ dispersion: ms === 0 ? 1e6 : 1 + 700 * random(), quality: random() < 0.01 ? 'uncertain' : 'good' },
      ...{ classPulses: [], classMs: [] },
    };
  });
}

describe('limits over longer pieces', () => {
  it.each([1, 2, 3, 4, 5])('are those of the sum of the points inside (seed %i)', (seed) => {
    const random = seedRandom(seed);
    const points = drawPoints(random, 1 + Math.floor(2_000 * random()));
    const pieceMs = [5, 15, 60][seed % 3]! * MINUTE_MS;
    const pieces = listPieces(points, pieceMs, OPTIONS);
    const ran = points.filter(({ ms }) => ms > 0);
    const starts = ran.map(({ start }) => Math.floor(start / pieceMs) * pieceMs);
    expect(pieces.map(({ start }) => start)).toEqual([...new Set(starts)]);
    for (const piece of pieces) {
      expect(piece.end).toBe(piece.start + pieceMs);
      const own = ran.filter(({ start }) => start >= piece.start && start < piece.end);
      expect(piece.pulses).toBe(own.reduce((sum, { pulses }) => sum + pulses, 0));
      expect(piece.ms).toBe(own.reduce((sum, { ms }) => sum + ms, 0));
      expect(piece.dispersion).toBe(Math.max(...own.map(({ dispersion }) => dispersion)));
      const { lower, upper } = poissonLimits(piece.pulses, 0.95, piece.dispersion);
      expect(piece.lower).toBeCloseTo((MINUTE_MS * lower) / piece.ms, 9);
      expect(piece.upper).toBeCloseTo((MINUTE_MS * upper) / piece.ms, 9);
      expect(piece.quality).toBe(own.some(({ quality }) => quality === 'uncertain') ? 'uncertain' : 'good');
    }
  });

  it('of nothing that ran are none', () => {
    const still = drawPoints(() => 0, 30);
    expect(still.every(({ ms }) => ms === 0)).toBe(true);
    expect(listPieces(still, HOUR_MS, OPTIONS)).toEqual([]);
  });

  it.each([
    ['an hour and its double', 2 * HOUR_MS, 10_000, MINUTE_MS],
    ['a day', 2 * DAY_MS, MINUTE_MS, 20 * MINUTE_MS],
    ['a week', 14 * DAY_MS, 20 * MINUTE_MS, 2 * HOUR_MS],
    ['few buckets', 30 * HOUR_MS, HOUR_MS, HOUR_MS],
    ['a century', 36_000 * DAY_MS, 14 * DAY_MS, 182 * DAY_MS],
    ['more than a century', 39_800 * 7 * DAY_MS, 7 * DAY_MS, 200 * 7 * DAY_MS],
  ])('have lengths that a person can name: %s', (_name, spanMs, bucketMs, pieceMs) => {
    const chosen = choosePieceMs({ from: FROM, to: FROM + spanMs, bucketMs });
    expect(chosen).toBe(pieceMs);
    expect(spanMs / chosen).toBeLessThanOrEqual(PIECES_MOST);
  });

  it.each([
    [HOUR_MS, 200],
    [HOUR_MS, 400],
    [91 * DAY_MS, 800],
    [364 * DAY_MS, 2_000],
  ])(
    'are no more where the span begins and ends within one: buckets of %i ms, %i of them',
    (bucketMs, count) => {
      for (let shift = 0; shift < 12; shift++) {
        const from = Math.floor(FROM / bucketMs) * bucketMs + shift * bucketMs;
        const to = from + count * bucketMs;
        const chosen = choosePieceMs({ from, to, bucketMs });
        expect(Math.ceil(to / chosen) - Math.floor(from / chosen)).toBeLessThanOrEqual(PIECES_MOST);
      }
    },
  );
});
