/**
 * The rate of one sensor on a time axis, drawn by uPlot on a canvas: the mean of each longer piece with its limits as a band,
 * thin the mean of each bucket, the lowest and highest as a fainter band, the baseline dotted, setpoints dashed. What it shows
 * is told in words and in a table beside it.
 */
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import type { SeriesBody } from '../../../shared/charts.js';
import { formatRate } from '../times.js';
import { listCompressedMarks } from './compressed-scale.js';
import { readInk, withAlpha, type Ink } from './ink.js';
import { COLUMN, findTop, pointAt, toRateData, type RateData, type SeriesPoint } from './rate-data.js';
import { nameStep } from './small-series.js';
import type { Span } from './span.js';
import { listTimeTicks } from './time-axis.js';

/**
 * Room for the numbers of the rate, and for half of the last time under the axis; the lanes under the chart begin and end at the
 * same places, see motor.css.
 */
export const GUTTER_PX = 76;
export const RIGHT_PX = 24;
const TICK_PX = 110;
const EMPTY: RateData = { columns: [[], [], [], [], [], [], [], [], []], starts: [], points: [] };

export interface RateChartWishes {
  readonly height: number;
  readonly zone: string;
  /** the chart that carries the times; the others leave them out */
  readonly hasTimes: boolean;
  readonly isCompressed: boolean;
  /** of the pointer; null: it left */
  readonly onCursor: (at: number | null) => void;
  readonly onSelect: (span: Span) => void;
}

/** A level for each bucket, and nothing between two: what steps with the conditions is no course over time. */
const drawLevels: uPlot.Series.PathBuilder = (u, series, first, last) => {
  const [times, values] = [u.data[0], u.data[series]!];
  const stroke = new Path2D();
  for (let i = first; i < last; i++) {
    const value = values[i] ?? null;
    if (value === null) continue;
    // levels that go on are one line, or its dashes would begin anew in each bucket
    const begin = i;
    while (i < last && values[i + 1] === value) i++;
    const y = u.valToPos(value, 'y', true);
    stroke.moveTo(u.valToPos(times[begin]!, 'x', true), y);
    stroke.lineTo(u.valToPos(times[i]!, 'x', true), y);
  }
  return { stroke, fill: null, clip: null, band: null, gaps: [], flags: 1 };
};

/** Lines through all charts: marks that a person set, and marks in time. */
export interface VerticalLine {
  readonly at: number;
  readonly label: string;
  readonly isStrong: boolean;
}

export class RateChart {
  readonly #wishes: RateChartWishes;
  #plot: uPlot;
  #ink: Ink = readInk();
  #data: RateData = EMPTY;
  #setpoints: SeriesBody['setpoints'] = [];
  #span: Span;
  #lines: readonly VerticalLine[] = [];
  #isMuted = false;

  constructor(root: HTMLElement, width: number, span: Span, wishes: RateChartWishes) {
    this.#wishes = wishes;
    this.#span = span;
    this.#plot = new uPlot(this.#options(width), EMPTY.columns, root);
  }

  /** Points drawn of one curve. */
  get drawn(): number {
    return this.#data.columns[0].length;
  }

  setSeries(body: SeriesBody): void {
    const factors = body.setpoints.flatMap(({ times_baseline }) => times_baseline ?? []);
    this.#data = toRateData(
      body.points,
      body.limits.pieces,
      factors.length === 0 ? null : Math.min(...factors),
    );
    this.#setpoints = body.setpoints;
    this.#plot.setData(this.#data.columns, false);
    this.setSpan(this.#span);
  }

  setSpan(span: Span): void {
    this.#span = span;
    this.#plot.setScale('x', { min: span.from, max: span.to });
  }

  setLines(lines: readonly VerticalLine[]): void {
    this.#lines = lines;
    this.#plot.redraw(false);
  }

  /** Shows the cursor there without telling anybody; null: none. */
  setCursor(at: number | null): void {
    this.#isMuted = true;
    const left = at === null ? -10 : this.#plot.valToPos(at, 'x');
    this.#plot.setCursor({ left, top: at === null ? -10 : 1 });
    this.#isMuted = false;
  }

  pointAt(at: number): SeriesPoint | null {
    return pointAt(this.#data, at);
  }

  resize(width: number): void {
    this.#plot.setSize({ width, height: this.#wishes.height });
  }

  applyTheme(): void {
    this.#ink = readInk();
    this.#plot.redraw(false);
  }

  destroy(): void {
    this.#plot.destroy();
  }

  #options(width: number): uPlot.Options {
    const { height, isCompressed, onCursor } = this.#wishes;
    return {
      ...{ width, height, ms: 1, padding: [8, RIGHT_PX, this.#wishes.hasTimes ? 0 : 8, 0] },
      legend: { show: false },
      cursor: {
        ...{ y: false, points: { show: false }, drag: { x: true, y: false, setScale: false } },
      },
      scales: {
        x: { time: true, auto: false, range: () => [this.#span.from, this.#span.to] },
        y: {
          ...(isCompressed ? { distr: 4 as const, asinh: 1 } : {}),
          range: (u) => [0, this.#topOf(u)],
        },
      },
      axes: [this.#timeAxis(), this.#rateAxis()],
      series: this.#curves(),
      bands: [
        { series: [COLUMN.max, COLUMN.min], fill: () => withAlpha(this.#ink.trace, 0.16) },
        { series: [COLUMN.upper, COLUMN.lower], fill: () => withAlpha(this.#ink.trace, 0.38) },
      ],
      hooks: {
        draw: [(u) => this.#drawLines(u)],
        setCursor: [
          (u) => {
            if (this.#isMuted) return;
            const { left } = u.cursor;
            onCursor(left === undefined || left === null || left < 0 ? null : u.posToVal(left, 'x'));
          },
        ],
        setSelect: [(u) => this.#takeSelection(u)],
      },
    };
  }

  #topOf(u: uPlot): number {
    const [first, last] = u.series[0]!.idxs ?? [0, -1];
    const setpoints = this.#setpoints.flatMap(({ setpoint_per_min }) => setpoint_per_min ?? []);
    return findTop(this.#data.columns, first, last, setpoints);
  }

  #timeAxis(): uPlot.Axis {
    const { hasTimes, zone } = this.#wishes;
    const ticks = (u: uPlot) =>
      listTimeTicks(this.#span.from, this.#span.to, zone, Math.max(2, Math.floor(u.width / TICK_PX)));
    return {
      ...{ show: true, size: hasTimes ? 44 : 0, font: '13px system-ui, sans-serif' },
      stroke: () => this.#ink.quiet,
      splits: (u) => ticks(u).map(({ at }) => at),
      values: (u) => (hasTimes ? ticks(u).map(({ label }) => label) : ticks(u).map(() => '')),
      grid: { stroke: () => this.#ink.line, width: 1 },
      ticks: { show: hasTimes, stroke: () => this.#ink.line, width: 1, size: 6 },
    };
  }

  #rateAxis(): uPlot.Axis {
    return {
      ...{ size: GUTTER_PX, font: '13px system-ui, sans-serif', space: 34 },
      stroke: () => this.#ink.quiet,
      values: (_u, splits) => splits.map((value) => nameStep(value, (splits[1] ?? 1) - (splits[0] ?? 0))),
      ...(this.#wishes.isCompressed
        ? {
            splits: (u: uPlot) =>
              listCompressedMarks(u.scales['y']!.max ?? 1, u.bbox.height / devicePixelRatio),
            filter: (_u: uPlot, splits: number[]) => splits,
          }
        : {}),
      grid: { stroke: () => this.#ink.line, width: 1 },
      ticks: { stroke: () => this.#ink.line, width: 1, size: 6 },
    };
  }

  #curves(): uPlot.Series[] {
    const none = { points: { show: false }, width: 0, stroke: 'transparent' };
    const line = (width: number, dash: number[], colour: (ink: Ink) => string): uPlot.Series => ({
      ...{ points: { show: false }, width, dash, stroke: () => colour(this.#ink), spanGaps: false },
    });
    return [
      {},
      ...[none, none, none, none],
      { ...line(1.5, [10, 4, 2, 4], ({ quiet }) => quiet), paths: drawLevels },
      { ...line(1.5, [2, 4], ({ ink }) => ink), paths: drawLevels },
      line(1, [], ({ trace }) => trace),
      line(2, [], ({ ink }) => ink),
    ];
  }

  #drawLines(u: uPlot): void {
    const { ctx, bbox } = u;
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.font = `${12 * ratio}px system-ui, sans-serif`;
    // the axes leave their own
    ctx.textAlign = 'left';
    ctx.textBaseline = 'alphabetic';
    for (const { kind, setpoint_per_min } of this.#setpoints) {
      if (setpoint_per_min === null) continue;
      const y = u.valToPos(setpoint_per_min, 'y', true);
      this.#stroke(ctx, [bbox.left, y, bbox.left + bbox.width, y], [8 * ratio, 5 * ratio], this.#ink.ink);
      // above its line, or below it where the top would cut it off
      const isHigh = y - 16 * ratio < bbox.top;
      const text = `setpoint ${kind} ${formatRate(setpoint_per_min)}`;
      this.#label(ctx, text, bbox.left + 6 * ratio, y + (isHigh ? 14 : -5) * ratio);
    }
    for (const { at, label, isStrong } of this.#lines) {
      const x = u.valToPos(at, 'x', true);
      if (x < bbox.left || x > bbox.left + bbox.width) continue;
      const dash = isStrong ? [] : [3 * ratio, 4 * ratio];
      this.#stroke(
        ctx,
        [x, bbox.top, x, bbox.top + bbox.height],
        dash,
        isStrong ? this.#ink.ink : this.#ink.quiet,
      );
      ctx.fillStyle = this.#ink.ink;
      ctx.fillText(label, x + 4 * ratio, bbox.top + 12 * ratio);
    }
    ctx.restore();
  }

  /** On a ground of its own, so that it is read over a curve too. */
  #label(ctx: CanvasRenderingContext2D, text: string, x: number, y: number): void {
    const ratio = devicePixelRatio;
    const { width } = ctx.measureText(text);
    ctx.fillStyle = withAlpha(this.#ink.raised, 0.85);
    ctx.fillRect(x - 2 * ratio, y - 11 * ratio, width + 4 * ratio, 14 * ratio);
    ctx.fillStyle = this.#ink.ink;
    ctx.fillText(text, x, y);
  }

  #stroke(ctx: CanvasRenderingContext2D, ends: readonly number[], dash: number[], colour: string): void {
    const [x0, y0, x1, y1] = ends as [number, number, number, number];
    ctx.strokeStyle = colour;
    ctx.lineWidth = 1.25 * devicePixelRatio;
    ctx.setLineDash(dash);
    ctx.beginPath();
    ctx.moveTo(x0, y0);
    ctx.lineTo(x1, y1);
    ctx.stroke();
    ctx.setLineDash([]);
  }

  #takeSelection(u: uPlot): void {
    const { left, width } = u.select;
    if (width < 4) return;
    const span = { from: u.posToVal(left, 'x'), to: u.posToVal(left + width, 'x') };
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.#wishes.onSelect({ from: Math.round(span.from), to: Math.round(span.to) });
  }
}
