/** The lanes under the rates, on the same time axis: run state, starts and stops, time set aside, speed and load, marks. */
import type { MarkBody, SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { hatch, type Hatch } from './hatch.js';
import { readInk, type Ink } from './ink.js';
import { placePieces, type LanePiece } from './lane-pieces.js';
import type { Span } from './span.js';
import type { VerticalLine } from './rate-chart.js';

export interface Lane {
  readonly key: 'state' | 'transients' | 'excluded' | 'condition' | 'marks';
  readonly title: string;
  readonly heightPx: number;
}

export const LANES: readonly Lane[] = [
  { key: 'state', title: 'Run state', heightPx: 24 },
  { key: 'transients', title: 'Starts, stops', heightPx: 20 },
  { key: 'excluded', title: 'Set aside', heightPx: 34 },
  { key: 'condition', title: 'Speed, load', heightPx: 48 },
  { key: 'marks', title: 'Marks', heightPx: 30 },
];
export const LANE_GAP_PX = 6;
export const LANES_HEIGHT_PX = LANES.reduce((sum, { heightPx }) => sum + heightPx + LANE_GAP_PX, 0);

type StripState = TimelineBody['run_states'][number]['state'];

/** How each run state is drawn: by lightness and hatch, so that a grey print tells them apart. */
export const STATE_HATCH: Readonly<Record<StripState, Hatch>> = {
  running: 'solid',
  starting: 'rising',
  stopping: 'falling',
  stopped: 'empty',
  fault: 'cross',
  unknown: 'dots',
  several: 'upright',
};

export type Excluded = 'background' | 'transient' | 'common' | 'unattributed' | 'check' | 'rejected';

/** From the bottom up. */
export const EXCLUDED_HATCH: Readonly<Record<Excluded, Hatch>> = {
  background: 'light',
  transient: 'rising',
  common: 'cross',
  unattributed: 'dots',
  check: 'upright',
  rejected: 'solid',
};
const EXCLUDED = Object.keys(EXCLUDED_HATCH) as Excluded[];

export interface LaneData {
  readonly timeline: TimelineBody;
  /** whose time is shown as set aside */
  readonly points: SeriesBody['points'];
}

export class LaneCanvas {
  readonly #canvas: HTMLCanvasElement;
  #ink: Ink = readInk();
  #data: LaneData | null = null;
  #strip: LanePiece<StripState>[] = [];
  #transients: LanePiece<'transient'>[] = [];
  #times: { from: number; to: number }[] = [];
  #conditions: { from: number; to: number; speed: number | null; load: number | null }[] = [];
  #span: Span;
  #lines: readonly VerticalLine[] = [];
  #width: number;

  constructor(canvas: HTMLCanvasElement, width: number, span: Span) {
    this.#canvas = canvas;
    this.#span = span;
    this.#width = width;
  }

  setData(data: LaneData): void {
    const { run_states, transients, condition } = data.timeline;
    const toSpan = (piece: { from: string; to: string }) => ({
      from: Date.parse(piece.from),
      to: Date.parse(piece.to),
    });
    this.#data = data;
    this.#strip = run_states.map((piece) => ({ ...toSpan(piece), kind: piece.state }));
    this.#transients = transients.map((piece) => ({ ...toSpan(piece), kind: 'transient' }));
    this.#times = data.points.map(({ start, end }) => ({ from: Date.parse(start), to: Date.parse(end) }));
    this.#conditions = condition.points.map(({ start, end, speed_rpm, load_pct }) => ({
      ...{ from: Date.parse(start), to: Date.parse(end) },
      ...{ speed: speed_rpm?.mean ?? null, load: load_pct?.mean ?? null },
    }));
    this.draw();
  }

  setSpan(span: Span): void {
    this.#span = span;
    this.draw();
  }

  setLines(lines: readonly VerticalLine[]): void {
    this.#lines = lines;
    this.draw();
  }

  resize(width: number): void {
    this.#width = width;
    this.draw();
  }

  applyTheme(): void {
    this.#ink = readInk();
    this.draw();
  }

  /** The highest speed that is shown, rpm; null: none is known. */
  get speedMost(): number | null {
    const known = this.#conditions.flatMap(({ speed }) => speed ?? []);
    return known.length === 0 ? null : Math.max(...known);
  }

  draw(): void {
    const ratio = devicePixelRatio;
    this.#canvas.width = Math.round(this.#width * ratio);
    this.#canvas.height = Math.round(LANES_HEIGHT_PX * ratio);
    const ctx = this.#canvas.getContext('2d');
    if (ctx === null || this.#data === null) return;
    ctx.scale(ratio, ratio);
    let top = 0;
    for (const { key, heightPx } of LANES) {
      ctx.strokeStyle = this.#ink.line;
      ctx.strokeRect(0.5, top + 0.5, this.#width - 1, heightPx - 1);
      this.#drawLane(ctx, key, top, heightPx);
      top += heightPx + LANE_GAP_PX;
    }
    this.#drawVerticals(ctx);
  }

  #drawLane(ctx: CanvasRenderingContext2D, key: Lane['key'], top: number, height: number): void {
    switch (key) {
      case 'state':
        for (const { x, width, kind } of placePieces(this.#strip, (at) => this.#x(at), this.#width, 1))
          this.#fill(ctx, [x, top + 1, width, height - 2], STATE_HATCH[kind]);
        return;
      case 'transients':
        for (const { x, width } of placePieces(this.#transients, (at) => this.#x(at), this.#width, 2))
          this.#fill(ctx, [x, top + 1, width, height - 2], 'solid');
        return;
      case 'excluded':
        return this.#drawExcluded(ctx, top, height);
      case 'condition':
        this.#drawCondition(ctx, top, height, 'speed', []);
        return this.#drawCondition(ctx, top, height, 'load', [5, 4]);
      case 'marks':
        for (const mark of this.#data!.timeline.marks) this.#drawMark(ctx, mark, top + height / 2);
    }
  }

  #x(at: number): number {
    return ((at - this.#span.from) / (this.#span.to - this.#span.from)) * this.#width;
  }

  #fill(ctx: CanvasRenderingContext2D, rect: readonly number[], kind: Hatch): void {
    const [x, y, width, height] = rect as [number, number, number, number];
    ctx.fillStyle = hatch(ctx, kind, this.#ink);
    ctx.fillRect(x, y, width, height);
  }

  /** Of each bucket the share of every class but running, from the bottom up. Running leaves the lane free. */
  #drawExcluded(ctx: CanvasRenderingContext2D, top: number, height: number): void {
    this.#data!.points.forEach((point, i) => {
      const { from, to } = this.#times[i]!;
      if (to < this.#span.from || from > this.#span.to) return;
      // whole pixels, or the seams between two buckets show
      const x = Math.max(0, Math.round(this.#x(from)));
      const width = Math.min(this.#width, Math.round(this.#x(to))) - x;
      let bottom = top + height - 1;
      for (const kind of EXCLUDED) {
        const share = (point.excluded_ms[kind] ?? 0) / (to - from);
        if (share === 0) continue;
        // what is not nothing is seen
        const tall = Math.max(kind === 'background' ? 1 : 2, Math.min(1, share) * (height - 2));
        this.#fill(
          ctx,
          [x, Math.max(top + 1, bottom - tall), Math.max(1, width), tall],
          EXCLUDED_HATCH[kind],
        );
        bottom -= tall;
      }
    });
  }

  #drawCondition(
    ctx: CanvasRenderingContext2D,
    top: number,
    height: number,
    key: 'speed' | 'load',
    dash: number[],
  ): void {
    const most = key === 'load' ? 100 : (this.speedMost ?? 1);
    ctx.strokeStyle = this.#ink.ink;
    ctx.lineWidth = 1.5;
    ctx.setLineDash(dash);
    ctx.beginPath();
    let before: number | null = null;
    for (const { from, to, [key]: value } of this.#conditions) {
      if (to < this.#span.from || from > this.#span.to) continue;
      if (value === null) {
        before = null;
        continue;
      }
      const y = top + height - 3 - Math.min(1, value / Math.max(most, 1)) * (height - 6);
      if (before === from) ctx.lineTo(this.#x(from), y);
      else ctx.moveTo(this.#x(from), y);
      ctx.lineTo(this.#x(to), y);
      before = to;
    }
    ctx.stroke();
    ctx.setLineDash([]);
  }

  /** Diamond: work done; square: a finding; triangle: an alarm raised, hollow when it returned. */
  #drawMark(ctx: CanvasRenderingContext2D, mark: MarkBody, y: number): void {
    const x = this.#x(Date.parse(mark.at));
    if (x < -8 || x > this.#width + 8) return;
    ctx.beginPath();
    for (const [i, [dx, dy]] of SHAPES[mark.kind].entries()) {
      if (i === 0) ctx.moveTo(x + dx, y + dy);
      else ctx.lineTo(x + dx, y + dy);
    }
    ctx.closePath();
    const what = mark.alarm?.what ?? 'raised';
    const isFull = mark.kind !== 'alarm' || what === 'raised';
    if (mark.kind === 'alarm' && what !== 'raised' && what !== 'returned') return;
    ctx.lineWidth = 2;
    ctx.strokeStyle = mark.kind === 'alarm' ? this.#ink.medium : this.#ink.ink;
    ctx.fillStyle = isFull ? ctx.strokeStyle : this.#ink.raised;
    ctx.fill();
    ctx.stroke();
  }

  #drawVerticals(ctx: CanvasRenderingContext2D): void {
    for (const { at, isStrong } of this.#lines) {
      const x = Math.round(this.#x(at)) + 0.5;
      ctx.strokeStyle = isStrong ? this.#ink.ink : this.#ink.quiet;
      ctx.lineWidth = 1.25;
      ctx.setLineDash(isStrong ? [] : [3, 4]);
      ctx.beginPath();
      ctx.moveTo(x, 0);
      ctx.lineTo(x, LANES_HEIGHT_PX);
      ctx.stroke();
    }
    ctx.setLineDash([]);
  }
}

export const SHAPES: Readonly<Record<MarkBody['kind'], readonly (readonly [number, number])[]>> = {
  action: [
    [0, -8],
    [8, 0],
    [0, 8],
    [-8, 0],
  ],
  finding: [
    [-6, -6],
    [6, -6],
    [6, 6],
    [-6, 6],
  ],
  alarm: [
    [0, -7],
    [8, 7],
    [-8, 7],
  ],
};
