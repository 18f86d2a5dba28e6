/**
 * Learning the edges of an axis: what values it had over running time, in bounded memory, and where a person would cut them.
 * Source: our choice. Quantiles give bins with about the same exposure; round numbers can be read, said and typed.
 */

/** Cells of a histogram; when there are more, each two become one. */
const CELLS_MAX = 256;
/** Width of the finest cells, in the unit of the axis. */
const FINEST = 0.01;
const STEPS = [5, 2.5, 2, 1] as const;

/** Running milliseconds by value: cell n holds [n, n + 1) × FINEST × 2^level. The same whatever the order of adding. */
export interface Histogram {
  level: number;
  cells: Map<number, number>;
}

export interface LearntEdges {
  /** ascending; empty: the axis hardly varies, or nothing is known of it */
  edges: number[];
  deadband: number;
}

export function emptyHistogram(): Histogram {
  return { level: 0, cells: new Map() };
}

export function addValue(histogram: Histogram, value: number, ms: number): void {
  const cell = Math.floor(Math.floor(value / FINEST + 1e-6) / 2 ** histogram.level);
  histogram.cells.set(cell, (histogram.cells.get(cell) ?? 0) + ms);
  while (histogram.cells.size > CELLS_MAX) coarsen(histogram);
}

function coarsen(histogram: Histogram): void {
  const halved = new Map<number, number>();
  for (const [cell, ms] of histogram.cells) {
    const half = Math.floor(cell / 2);
    halved.set(half, (halved.get(half) ?? 0) + ms);
  }
  histogram.level += 1;
  histogram.cells = halved;
}

interface Level {
  value: number;
  ms: number;
}

/** Values in ascending order, each the middle of its cell; of the finest cells the value itself. */
function levelsOf({ level, cells }: Histogram): Level[] {
  const width = FINEST * 2 ** level;
  return [...cells]
    .sort((a, b) => a[0] - b[0])
    .map(([cell, ms]) => ({ value: cell * width + (level === 0 ? 0 : width / 2), ms }));
}

/** Least value that at least `share` of the running time lay at or under. */
function quantile(levels: readonly Level[], share: number): number {
  const total = levels.reduce((sum, { ms }) => sum + ms, 0);
  let below = 0;
  for (const { value, ms } of levels) {
    below += ms;
    if (below >= share * total) return value;
  }
  return levels[levels.length - 1]!.value;
}

/** The largest of 1, 2, 2.5, 5 × 10^k that is not above `size` > 0. */
export function roundStep(size: number): number {
  const decade = 10 ** Math.floor(Math.log10(size) + 1e-9);
  for (const step of STEPS) if (step * decade <= size * (1 + 1e-9)) return step * decade;
  return decade;
}

function multiple(step: number, n: number): number {
  return Number((step * n).toPrecision(12));
}

/**
 * Edges that cut the values into at most `count` bins: near the quantiles, on round numbers, and of these where the motor
 * spends least time, for an edge in the middle of an operating point tells nothing apart.
 */
export function learnEdges(histogram: Histogram, count: number): LearntEdges {
  const levels = levelsOf(histogram);
  const nothing = { edges: [], deadband: 0 };
  if (levels.length < 2) return nothing;
  const range = quantile(levels, 0.95) - quantile(levels, 0.05);
  if (!(range > 0)) return nothing;
  const step = roundStep(range / (2 * count));
  const half = step / 4;
  const timeAround = (edge: number): number =>
    levels.reduce((sum, { value, ms }) => sum + (Math.abs(value - edge) <= half ? ms : 0), 0);
  const least = levels[0]!.value;
  const most = levels[levels.length - 1]!.value;
  const edges: number[] = [];
  for (let i = 1; i < count; i++) {
    const target = quantile(levels, i / count);
    const first = Math.floor(quantile(levels, (i - 0.5) / count) / step);
    const last = Math.ceil(quantile(levels, (i + 0.5) / count) / step);
    let best: { edge: number; ms: number; off: number } | null = null;
    for (let n = first; n <= last; n++) {
      const edge = multiple(step, n);
      if (edge <= Math.max(least, edges[edges.length - 1] ?? least) || edge > most) continue;
      const ms = timeAround(edge);
      const off = Math.abs(edge - target);
      if (best === null || ms < best.ms || (ms === best.ms && off < best.off)) best = { edge, ms, off };
    }
    if (best !== null) edges.push(best.edge);
  }
  return { edges, deadband: multiple(step, 0.5) };
}

/** As it is kept in a checkpoint. */
export interface HistogramRecord {
  level: number;
  cells: [cell: number, ms: number][];
}

export function histogramRecord({ level, cells }: Histogram): HistogramRecord {
  return { level, cells: [...cells] };
}

export function toHistogram({ level, cells }: HistogramRecord): Histogram {
  return { level, cells: new Map(cells) };
}
