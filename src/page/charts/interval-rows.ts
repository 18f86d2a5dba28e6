/** Where the rows of an interval chart go: a point with its limits on a logarithmic axis, one row each. Pure. */
import { listLogTicks, makeLogScale, type LogTick } from './log-scale.js';

/** `upper` null: no bound. `mean` null: there was no exposure, so there is nothing to draw, which is not zero. */
export interface IntervalRow {
  readonly key: string;
  readonly label: string;
  readonly mean: number | null;
  readonly lower: number;
  readonly upper: number | null;
  /** said where there is nothing to draw */
  readonly missing: string;
  /** stands out by shape, weight and words; empty: it does not */
  readonly note: string;
  /** a hollow mark: the second of two kinds that share the chart */
  readonly isHollow: boolean;
}

export interface PlacedRow {
  readonly key: string;
  readonly y: number;
  readonly label: string;
  readonly note: string;
  readonly missing: string;
  readonly isHollow: boolean;
  /** null: no exposure */
  readonly x: number | null;
  readonly low: number;
  readonly high: number;
  /** the limit lies beyond the end of the axis: an arrow says so */
  readonly isOpenLow: boolean;
  readonly isOpenHigh: boolean;
}

export interface IntervalPicture {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly rows: readonly PlacedRow[];
  readonly ticks: readonly (LogTick & { readonly x: number })[];
  /** place of the reference; null: there is none */
  readonly referenceX: number | null;
}

export const ROW_HEIGHT = 30;
/** Of the text under the axis, at the size that the style sheet gives it; wide enough for any of its fonts. */
const UNIT_LETTER_PX = 7.4;
const TOP = 8;
const AXIS_HEIGHT = 48;

/** `labelWidth`: room for labels, px. `reference`: a line at this value, kept on the axis; null: none. */
export function placeRows(
  rows: readonly IntervalRow[],
  size: { readonly width: number; readonly labelWidth: number },
  reference: number | null,
): IntervalPicture {
  const drawn = rows.filter(({ mean }) => mean !== null);
  // limits may reach far beyond all rates: they stretch the axis by a decade at the most
  const means = drawn.flatMap(({ mean }) => mean ?? []);
  const positive = means.filter((mean) => mean > 0);
  const around = reference === null ? [] : [reference];
  const bounds = [...positive, ...around];
  const floor = bounds.length === 0 ? 0 : Math.min(...bounds) / 10;
  const ceiling = bounds.length === 0 ? Infinity : Math.max(...bounds) * 10;
  const limits = drawn.flatMap(({ lower, upper }) => [lower, upper ?? 0]);
  const scale = makeLogScale(
    [...means, ...limits.filter((value) => value >= floor && value <= ceiling && value > 0)],
    around,
  );
  const left = size.labelWidth;
  const right = size.width - 16;
  const xOf = (value: number): number => left + scale.place(value) * (right - left);
  const bottom = TOP + rows.length * ROW_HEIGHT;
  return {
    ...{ width: size.width, height: bottom + AXIS_HEIGHT, left, right, top: TOP, bottom },
    rows: rows.map((row, i) => ({
      ...{ key: row.key, label: row.label, note: row.note, missing: row.missing, isHollow: row.isHollow },
      y: TOP + (i + 0.5) * ROW_HEIGHT,
      x: row.mean === null ? null : xOf(row.mean),
      low: xOf(row.lower),
      high: row.upper === null ? right : xOf(row.upper),
      isOpenLow: row.lower > 0 ? row.lower < scale.least * (1 - 1e-9) : !scale.hasZero,
      isOpenHigh: row.upper === null || row.upper > scale.most * (1 + 1e-9),
    })),
    ticks: listLogTicks(scale).map((tick) => ({ ...tick, x: xOf(tick.value) })),
    referenceX: reference === null ? null : xOf(reference),
  };
}

/** Middle of the text under the axis: below the middle of the axis, unless it would be cut off at the edge of the picture. */
export function placeUnit(unit: string, { left, right, width }: IntervalPicture): number {
  const half = Math.min(width, unit.length * UNIT_LETTER_PX) / 2;
  return Math.max(half, Math.min(width - half, (left + right) / 2));
}

/** A name that is too long loses its beginning: motors of a group differ by the end of theirs. At least four letters are left. */
export function shortenLabel(label: string, letters: number): string {
  const most = Math.max(5, letters);
  return label.length <= most ? label : `…${label.slice(1 - most)}`;
}
