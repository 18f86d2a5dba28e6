/** The logarithm of a rate and how far chance alone may have moved it, with an answer for no pulses at all. */
import { median } from './median.js';

/**
 * ψ′(x), the second derivative of ln Γ, x > 0: the variance of the logarithm of a gamma variable of shape x.
 * Source: DLMF 5.15.5 (recurrence) up to 20 and 5.15.8 (asymptotic series).
 */
export function trigamma(x: number): number {
  if (!(x > 0)) throw new RangeError(`trigamma: x must be above 0, not ${x}`);
  let sum = 0;
  let z = x;
  for (; z < 20; z++) sum += 1 / (z * z);
  const s = 1 / (z * z);
  return sum + 1 / z + s / 2 + (s / z) * (1 / 6 - s * (1 / 30 - s * (1 / 42 - s / 30)));
}

export interface LogRate {
  /** ln((N + φ/2) / expected) */
  value: number;
  /** sampling variance */
  variance: number;
}

/**
 * ln of pulses over what is expected (an exposure, or expected pulses), φ ≥ 1 of the pulses. N + φ/2 in place of N keeps the logarithm
 * without bias to second order and gives zero pulses the rate of half a burst; the variance ψ′(N/φ + ½) is then 4.93, so that silence in
 * a short time is not odd. Null: nothing is expected.
 * Source: J. B. S. Haldane, Annals of Human Genetics 20 (1956) 309-311, and F. J. Anscombe, Biometrika 43 (1956) 461-464, for the half;
 * variance of the logarithm of the gamma distribution of shape N/φ + ½ (Jeffreys); N/φ as for quasi-Poisson limits.
 */
export function logRate(pulses: number, expected: number, dispersion: number): LogRate | null {
  if (!(expected > 0)) return null;
  const phi = Math.max(1, dispersion);
  return { value: Math.log((pulses + phi / 2) / expected), variance: trigamma(pulses / phi + 0.5) };
}

/** One motor in one condition bin. */
export interface MotorBin {
  readonly motor: string;
  readonly bin: string;
  readonly pulses: number;
  readonly exposureMs: number;
}

const ROUNDS = 50;

/**
 * Expected pulses of each motor of a group if it were like the group's median motor, under the conditions that it ran in: rates of bins and
 * factors of motors are fitted in turns to pulses = exposure × bin rate × motor factor, so that a raised motor raises its own factor and not
 * the rates of the bins where it happened to run. Bins that only one motor has visited are left out: they say nothing. A motor without
 * shared exposure is absent from the answer. The factors are scaled to a median of 1.
 * Source: two-way multiplicative Poisson model, fitted by iterative proportional fitting (Y. M. M. Bishop, S. E. Fienberg and
 * P. W. Holland, Discrete Multivariate Analysis (1975), section 3.5).
 */
export function expectPulses(group: readonly MotorBin[]): Map<string, { pulses: number; expected: number }> {
  const visited = group.filter(({ exposureMs }) => exposureMs > 0);
  const motorsOf = new Map<string, Set<string>>();
  for (const { bin, motor } of visited) motorsOf.set(bin, (motorsOf.get(bin) ?? new Set()).add(motor));
  const cells = visited.filter(({ bin }) => motorsOf.get(bin)!.size > 1);
  const rates = new Map<string, number>();
  const factors = new Map<string, number>();
  const fit = (
    target: Map<string, number>,
    keyOf: (c: MotorBin) => string,
    other: (c: MotorBin) => number,
  ): void => {
    const sums = new Map<string, { pulses: number; weight: number }>();
    for (const cell of cells) {
      const sum = sums.get(keyOf(cell)) ?? { pulses: 0, weight: 0 };
      sum.pulses += cell.pulses;
      sum.weight += cell.exposureMs * other(cell);
      sums.set(keyOf(cell), sum);
    }
    for (const [key, { pulses, weight }] of sums) target.set(key, weight > 0 ? pulses / weight : 0);
  };
  for (let round = 0; round < ROUNDS; round++) {
    fit(
      rates,
      (c) => c.bin,
      (c) => factors.get(c.motor) ?? 1,
    );
    fit(
      factors,
      (c) => c.motor,
      (c) => rates.get(c.bin)!,
    );
  }
  const middle = median([...factors.values()]) ?? 1;
  const answer = new Map<string, { pulses: number; expected: number }>();
  for (const { motor, bin, pulses, exposureMs } of cells) {
    const sum = answer.get(motor) ?? { pulses: 0, expected: 0 };
    sum.pulses += pulses;
    sum.expected += exposureMs * rates.get(bin)! * (middle > 0 ? middle : 1);
    answer.set(motor, sum);
  }
  return answer;
}
