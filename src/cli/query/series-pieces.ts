/**
 * Limits of the mean over longer pieces than the buckets of a drawn series: those of one bucket are often wider than the picture,
 * because a minute holds little exposure. Pure.
 */
import type { SeriesPiece, SeriesPoint } from '../../api/charts-reader.js';
import { rateLimits, type RateOptions } from '../../stats/poisson.js';
import { BUCKETS_MS, type SeriesSpan } from './series-span.js';

/** Our choice: a band of about a hundred pieces is still followed by the eye when half of the series is on the screen. */
export const PIECES_MOST = 200;

/** The least length that can be named, holds whole buckets, and gives at most PIECES_MOST pieces. */
export function choosePieceMs({ from, to, bucketMs }: Pick<SeriesSpan, 'from' | 'to' | 'bucketMs'>): number {
  // the span may begin and end within a piece
  const count = (ms: number): number => Math.ceil(to / ms) - Math.floor(from / ms);
  const fits = (ms: number): boolean => ms % bucketMs === 0 && count(ms) <= PIECES_MOST;
  return BUCKETS_MS.find(fits) ?? bucketMs * Math.ceil((to - from) / bucketMs / (PIECES_MOST - 1));
}

/**
 * One piece for each stretch of `pieceMs` in which anything ran, in order of time. Its dispersion is the largest of its
 * points', so that it promises no more than any of them. `points` in order of time; none crosses the edge of a piece.
 */
export function listPieces(
  points: readonly SeriesPoint[],
  pieceMs: number,
  options: Omit<RateOptions, 'dispersion'>,
): SeriesPiece[] {
  const pieces: SeriesPiece[] = [];
  const startOf = ({ start }: SeriesPoint): number => Math.floor(start / pieceMs) * pieceMs;
  for (let i = 0; i < points.length;) {
    const start = startOf(points[i]!);
    const inside: SeriesPoint[] = [];
    for (; i < points.length && startOf(points[i]!) === start; i++)
      if (points[i]!.ms > 0) inside.push(points[i]!);
    if (inside.length > 0) pieces.push(toPiece(start, start + pieceMs, inside, options));
  }
  return pieces;
}

function toPiece(
  start: number,
  end: number,
  inside: readonly SeriesPoint[],
  options: Omit<RateOptions, 'dispersion'>,
): SeriesPiece {
  const pulses = inside.reduce((sum, point) => sum + point.pulses, 0);
  const ms = inside.reduce((sum, point) => sum + point.ms, 0);
  const dispersion = Math.max(1, ...inside.map((point) => point.dispersion));
  const limits = rateLimits(pulses, ms, { ...options, dispersion })!;
  const isUncertain = limits.uncertain || inside.some(({ quality }) => quality !== 'good');
  return {
    ...{ start, end, pulses, ms, dispersion },
    ...{ mean: limits.ratePerMin, lower: limits.lowerPerMin, upper: limits.upperPerMin },
    quality: isUncertain ? 'uncertain' : 'good',
  };
}
