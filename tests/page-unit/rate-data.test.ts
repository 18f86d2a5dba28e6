/** What the motor's chart draws of a series: steps, breaks, and the limits of longer pieces. */
import { describe, expect, it } from 'vitest';
import type { SeriesPieceBody } from '../../shared/charts.js';
import { COLUMN, findTop, toRateData, type SeriesPoint } from '../../src/page/charts/rate-data.js';

const BEGIN = Date.UTC(2026, 2, 2);
const MINUTE_MS = 60_000;
const at = (minute: number): string => new Date(BEGIN + minute * MINUTE_MS).toISOString();

function pointOf(minute: number, mean: number | null): SeriesPoint {
  return {
    ...{
      start: at(minute),
      end: at(minute + 1),
      running_pulses: mean ?? 0,
      running_ms: mean === null ? 0 : MINUTE_MS,
    },
    ...{ mean_per_min: mean, min_per_min: mean, max_per_min: mean, lower_per_min: 0, upper_per_min: 5_000 },
    ...{ dispersion: 700, quality: 'good', baseline_per_min: null, excluded_ms: {}, excluded_pulses: {} },
  };
}

function pieceOf(minute: number, minutes: number, lower: number, upper: number | null): SeriesPieceBody {
  return {
    ...{ start: at(minute), end: at(minute + minutes), running_pulses: 100, running_ms: MINUTE_MS },
    ...{ mean_per_min: 100, lower_per_min: lower, upper_per_min: upper, dispersion: 700, quality: 'good' },
  };
}

describe('the curve of a motor', () => {
  const points = [100, 110, null, 90, 105, 95].map((mean, minute) => pointOf(minute, mean));
  const pieces = [pieceOf(0, 3, 60, 150), pieceOf(3, 3, 70, null)];
  const { columns } = toRateData(points, pieces, null);

  it('breaks where nothing ran', () => {
    expect(columns[COLUMN.mean]).toEqual([100, 100, 110, 110, null, 90, 90, 105, 105, 95, 95]);
  });

  it('has a band of the limits of the pieces, not of single minutes, which would fill the picture', () => {
    expect(columns[COLUMN.lower]).toEqual([60, 60, 60, 60, null, 70, 70, 70, 70, 70, 70]);
    expect(columns[COLUMN.upper]!.slice(0, 5)).toEqual([150, 150, 150, 150, null]);
    expect(findTop(columns, 0, columns[0].length - 1, [])).toBeCloseTo(1.1 * 150);
  });

  it('has no band where no piece is told', () => {
    const bare = toRateData(points, [pieceOf(3, 3, 70, 130)], null).columns;
    expect(bare[COLUMN.upper]!.slice(5)).toEqual(new Array(6).fill(130));
    expect(bare[COLUMN.upper]!.slice(0, 5)).toEqual([null, null, null, null, null]);
  });
});
