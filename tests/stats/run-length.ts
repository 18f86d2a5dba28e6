/**
 * How long a CUSUM runs until it alarms, in the ideal case of a known mean and of counts or scores that are as assumed: a reference. The
 * program sets its threshold by simulated run lengths, because with an estimated baseline they are far shorter.
 */
import { normalDensity, normalUpperTail } from '../../src/stats/normal.js';
import { poissonLowerTail, poissonUpperTail } from '../../src/stats/poisson.js';
import { gaussLegendre, solveLinear } from './linear.js';

export interface PoissonCusum {
  /** mean count per step, ≥ 0 */
  readonly mean: number;
  /** reference k and threshold h in counts, multiples of 1 / `perCount`; alarm when S ≥ h */
  readonly reference: number;
  readonly threshold: number;
  /** steps of the grid in a count: 4 for quarters */
  readonly perCount: number;
  /** `upper`: S ← max(0, S + X − k); `lower`: S ← max(0, S + k − X) */
  readonly side: 'upper' | 'lower';
}

/** States of the grid beyond which the equations are not worth solving: our choice. */
const STATES_MAX = 1500;

/**
 * Mean number of steps to the alarm from each state 0, 1/perCount, 2/perCount … below the threshold. Exact: the sums live on the grid.
 * RangeError where k or h is no multiple of the grid, or the grid has more than 1500 states.
 * Source: D. Brook and D. A. Evans, An approach to the probability distribution of CUSUM run length, Biometrika 59 (1972) 539-549.
 */
export function poissonRunLengths(chart: PoissonCusum): number[] {
  const { mean, perCount, side } = chart;
  const k = Math.round(chart.reference * perCount);
  const states = Math.round(chart.threshold * perCount);
  const isOff = (value: number, whole: number): boolean => Math.abs(value * perCount - whole) > 1e-9 * whole;
  if (isOff(chart.reference, k) || isOff(chart.threshold, states) || states < 1 || states > STATES_MAX) {
    throw new RangeError(`run length: k ${chart.reference}, h ${chart.threshold}, grid of 1/${perCount}`);
  }
  const exactly = (count: number): number =>
    count < 0
      ? 0
      : count <= mean
        ? poissonLowerTail(count, mean) - poissonLowerTail(count - 1, mean)
        : poissonUpperTail(count, mean) - poissonUpperTail(count + 1, mean);
  const highest = Math.ceil((states + k) / perCount) + 1;
  const chance = Array.from({ length: highest + 1 }, (_, count) => exactly(count));
  const a = Array.from({ length: states }, (_, from) => {
    const row = new Array<number>(states).fill(0);
    row[from] = 1;
    chance.forEach((p, count) => {
      const move = side === 'upper' ? count * perCount - k : k - count * perCount;
      const to = Math.max(0, from + move);
      if (to < states) row[to]! -= p;
    });
    // counts above `highest` bring the lower chart to 0
    if (side === 'lower') row[0]! -= poissonUpperTail(highest + 1, mean);
    return row;
  });
  return solveLinear(a, new Array<number>(states).fill(1));
}

/** Nodes of the integral equation: more change nothing in the ninth digit for thresholds to 20. */
const NODES = 64;

/**
 * Mean number of steps of the one-sided CUSUM of normal scores with mean `shift` and variance 1, reference k, alarm when S > h > 0, from
 * `start` in 0 … h. Two-sided charts: 1/L = 1/L⁺ + 1/L⁻ where both start at 0.
 * Source: the integral equation of Page (1954), L(s) = 1 + L(0) Φ(k − s − μ) + ∫ L(y) φ(y + k − s − μ) dy over 0 … h, solved at
 * Gauss-Legendre nodes (E. J. Nyström, Acta Mathematica 54 (1930) 185-204).
 */
export function normalRunLength(shift: number, reference: number, threshold: number, start = 0): number {
  const { x, w } = gaussLegendre(NODES, 0, threshold);
  const below = (s: number): number => normalUpperTail(s + shift - reference);
  const density = (s: number, y: number): number => normalDensity(y + reference - s - shift);
  const points = [0, ...x];
  const a = points.map((s, row) =>
    points.map((y, column) => {
      const weight = column === 0 ? below(s) : w[column - 1]! * density(s, y);
      return (row === column ? 1 : 0) - weight;
    }),
  );
  const lengths = solveLinear(a, new Array<number>(points.length).fill(1));
  return points.reduce(
    (sum, y, i) => sum + lengths[i]! * (i === 0 ? below(start) : w[i - 1]! * density(start, y)),
    1,
  );
}

/**
 * The reference that finds a change of the mean from `meanBefore` to `meanAfter` soonest: (μ1 − μ0) / ln(μ1 / μ0) counts per step.
 * Both above 0 and different, else RangeError. Source: Lucas (1985), from the likelihood ratio.
 */
export function chooseReference(meanBefore: number, meanAfter: number): number {
  if (!(meanBefore > 0 && meanAfter > 0) || meanBefore === meanAfter) {
    throw new RangeError(
      `chooseReference: means must be above 0 and differ, not ${meanBefore}, ${meanAfter}`,
    );
  }
  return (meanAfter - meanBefore) / Math.log(meanAfter / meanBefore);
}
