/**
 * A series as columns for drawing: each bucket is a step, its limits are those of the longer piece that holds it, and where
 * nothing ran the line is broken. Pure.
 */
import type { SeriesBody, SeriesPieceBody } from '../../../shared/charts.js';

export type SeriesPoint = SeriesBody['points'][number];
export type Column = (number | null)[];

/** Places of the columns: the first is time. */
export const COLUMN = {
  x: 0,
  upper: 1,
  lower: 2,
  max: 3,
  min: 4,
  alarm: 5,
  baseline: 6,
  mean: 7,
  piece: 8,
} as const;

export interface RateData {
  readonly columns: [number[], ...Column[]];
  readonly starts: readonly number[];
  readonly points: readonly SeriesPoint[];
}

/**
 * Two places for each bucket, its start and its end, so that a curve shows whole buckets; one place without a value between
 * buckets that do not touch. `timesBaseline`: an alarm's; null: there is none.
 */
export function toRateData(
  points: readonly SeriesPoint[],
  pieces: readonly SeriesPieceBody[],
  timesBaseline: number | null,
): RateData {
  const columns: [number[], ...Column[]] = [[], [], [], [], [], [], [], [], []];
  const add = (at: number, values: readonly (number | null)[]): void => {
    columns[0].push(at);
    values.forEach((value, i) => (columns[i + 1] as Column).push(value));
  };
  const empty = new Array<null>(8).fill(null);
  let isOpen = false;
  let place = 0;
  for (const point of points) {
    const start = Date.parse(point.start);
    while (place < pieces.length && Date.parse(pieces[place]!.end) <= start) place++;
    if (point.mean_per_min === null) {
      if (isOpen) add(start, empty);
      isOpen = false;
      continue;
    }
    const piece = pieces[place];
    const isInside = piece !== undefined && Date.parse(piece.start) <= start;
    const values = valuesOf(point, isInside ? piece : null, timesBaseline);
    add(start, values);
    add(Date.parse(point.end), values);
    isOpen = true;
  }
  return { columns, points, starts: points.map(({ start }) => Date.parse(start)) };
}

function valuesOf(
  point: SeriesPoint,
  piece: SeriesPieceBody | null,
  timesBaseline: number | null,
): (number | null)[] {
  const base = point.baseline_per_min;
  const alarm = base === null || timesBaseline === null ? null : base * timesBaseline;
  return [
    ...[piece?.upper_per_min ?? null, piece?.lower_per_min ?? null, point.max_per_min, point.min_per_min],
    ...[alarm, base, point.mean_per_min, piece?.mean_per_min ?? null],
  ];
}

/** The piece that holds a time; null: nothing ran then. */
export function pieceOf({ limits }: SeriesBody, at: number): SeriesPieceBody | null {
  return limits.pieces.find(({ start, end }) => Date.parse(start) <= at && at < Date.parse(end)) ?? null;
}

/** The bucket that holds a time; null: there is none. */
export function pointAt({ starts, points }: RateData, at: number): SeriesPoint | null {
  let low = 0;
  let high = starts.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (starts[middle]! <= at) low = middle + 1;
    else high = middle;
  }
  const point = points[low - 1];
  return point !== undefined && at < Date.parse(point.end) ? point : null;
}

/** Extremes and limits count up to so many times the highest mean: a minute with little exposure would flatten all others. */
const REACH = 2.5;

/** Top of the axis for the columns' places `first` to `last`: all means, and of limits and setpoints what is near them. */
export function findTop(
  columns: RateData['columns'],
  first: number,
  last: number,
  setpoints: readonly number[],
): number {
  const most = (column: number): number => {
    let found = 0;
    for (let i = first; i <= last; i++) found = Math.max(found, columns[column]?.[i] ?? 0);
    return found;
  };
  const mean = Math.max(most(COLUMN.mean), most(COLUMN.baseline));
  const near = [most(COLUMN.upper), most(COLUMN.max), most(COLUMN.alarm), ...setpoints].filter(
    (value) => value <= REACH * mean || mean === 0,
  );
  const top = Math.max(mean, ...near, 0);
  return top === 0 ? 1 : 1.1 * top;
}
