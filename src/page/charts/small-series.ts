/** Geometry of a small picture of a rate over time: the mean as steps, its limits as a band, stretches shaded. Pure. */
import type { SeriesBody } from '../../../shared/charts.js';
import { formatCount } from '../times.js';
import { listTimeTicks, type TimeTick } from './time-axis.js';

export interface SmallFrame {
  readonly width: number;
  readonly height: number;
  readonly from: number;
  readonly to: number;
  readonly zone: string;
}

export interface SmallPicture {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  /** of an SVG path; empty: nothing ran */
  readonly line: string;
  readonly band: string;
  readonly ticks: readonly (TimeTick & { readonly x: number })[];
  readonly rates: readonly { readonly value: number; readonly y: number; readonly label: string }[];
  readonly xOf: (at: number) => number;
}

const LEFT = 52;
const RIGHT = 10;
const TOP = 10;
const BOTTOM = 40;
const TICK_PX = 66;

export function placeSmallSeries(points: SeriesBody['points'], frame: SmallFrame): SmallPicture {
  const { width, height, from, to, zone } = frame;
  const [left, right, top, bottom] = [LEFT, width - RIGHT, TOP, height - BOTTOM];
  const means = points.flatMap(({ mean_per_min }) => mean_per_min ?? []);
  const highest = Math.max(0, ...means);
  const limits = points
    .flatMap(({ upper_per_min }) => upper_per_min ?? [])
    .filter((value) => value <= 2.5 * highest);
  const steps = listSteps(Math.max(highest, ...limits, 0));
  const most = steps[steps.length - 1]!;
  const xOf = (at: number): number =>
    left + ((Math.min(to, Math.max(from, at)) - from) / (to - from)) * (right - left);
  const yOf = (value: number): number => bottom - (Math.min(value, most) / most) * (bottom - top);
  let line = '';
  let band = '';
  let isOpen = false;
  for (const point of points) {
    const { mean_per_min: mean, lower_per_min: lower, upper_per_min: upper } = point;
    if (mean === null) {
      isOpen = false;
      continue;
    }
    const [x0, x1] = [round(xOf(Date.parse(point.start))), round(xOf(Date.parse(point.end)))];
    line += `${isOpen ? 'L' : 'M'}${x0} ${round(yOf(mean))}H${x1}`;
    band += `M${x0} ${round(yOf(upper ?? most))}H${x1}V${round(yOf(lower ?? 0))}H${x0}Z`;
    isOpen = true;
  }
  const ticks = listTimeTicks(from, to, zone, Math.max(2, Math.floor((right - left) / TICK_PX)));
  return {
    ...{ left, right, top, bottom, line, band, xOf },
    ticks: ticks.map((tick) => ({ ...tick, x: xOf(tick.at) })),
    rates: steps.map((value) => ({ value, y: yOf(value), label: nameStep(value, steps[1]!) })),
  };
}

/** Zero and three or four whole steps that hold the most. */
export function listSteps(most: number): number[] {
  if (!(most > 0)) return [0, 1];
  const rough = most / 3;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((nice) => nice * power >= rough * (1 - 1e-9))!;
  return Array.from({ length: Math.ceil(most / step - 1e-9) + 1 }, (_, i) =>
    Number((i * step).toPrecision(6)),
  );
}

/** All marks of an axis with the decimals that its step needs: `0`, `0.5`, `1.0`. */
export function nameStep(value: number, step: number): string {
  let decimals = 0;
  // steps have a figure or two: 0.25 has two decimals, 0.2 one
  while (decimals < 12 && Math.abs(step * 10 ** decimals - Math.round(step * 10 ** decimals)) > 1e-6)
    decimals++;
  return value === 0 || decimals === 0 ? formatCount(value) : value.toFixed(decimals);
}

function round(value: number): number {
  return Math.round(value * 10) / 10;
}
