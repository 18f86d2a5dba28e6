/** The regularised incomplete beta function: tails of the negative binomial distribution. */
import { LN_SQRT_TWO_PI, lnOnePlusLess, stirlingError } from './ln-gamma.js';

const STEPS_MAX = 1_000_000;

/**
 * x^a y^b / B(a, b) with y = 1 − x. Keeps its digits for large a and b.
 * Source: deviance form after C. Loader (2000), Stirling remainders apart.
 */
function betaWeight(a: number, b: number, x: number, y: number): number {
  const excess = b * x - a * y;
  const deviance = -a * lnOnePlusLess(excess / a) - b * lnOnePlusLess(-excess / b);
  const lnScale = 0.5 * (Math.log(a) - Math.log1p(a / b)) - LN_SQRT_TWO_PI;
  return Math.exp(lnScale - deviance + stirlingError(a + b) - stirlingError(a) - stirlingError(b));
}

/** Continued fraction of I_x(a, b) without its weight, good for x ≤ (a+1)/(a+b+2). Source: DLMF 8.17.22, modified Lentz. */
function betaFraction(a: number, b: number, x: number): number {
  const tiny = 1e-300;
  let c = 1;
  let d = 1 - ((a + b) * x) / (a + 1);
  d = 1 / (Math.abs(d) < tiny ? tiny : d);
  let value = d;
  for (let m = 1; m < STEPS_MAX; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 + even * d;
    d = 1 / (Math.abs(d) < tiny ? tiny : d);
    c = 1 + even / c;
    if (Math.abs(c) < tiny) c = tiny;
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 + odd * d;
    d = 1 / (Math.abs(d) < tiny ? tiny : d);
    c = 1 + odd / c;
    if (Math.abs(c) < tiny) c = tiny;
    const step = d * c;
    value *= step;
    if (Math.abs(step - 1) < 2e-16) break;
  }
  return value / a;
}

/**
 * I_x(a, b), a and b above 0, 0 ≤ x ≤ 1. `y` is 1 − x, given apart because near x = 1 it cannot be had from x.
 * The smaller side is computed directly, so small tails keep their digits.
 * Throws RangeError for arguments out of range. Source: DLMF 8.17.4 for the mirror.
 */
export function regularisedBeta(a: number, b: number, x: number, y = 1 - x): number {
  if (!(a > 0 && b > 0)) throw new RangeError(`regularisedBeta: a and b must be above 0, not ${a} and ${b}`);
  if (!(x >= 0 && y >= 0)) throw new RangeError(`regularisedBeta: x must lie from 0 to 1, not ${x}`);
  if (x === 0 || y === 0) return x === 0 ? 0 : 1;
  const weight = betaWeight(a, b, x, y);
  if (x * (b + 1) <= (a + 1) * y) return weight * betaFraction(a, b, x);
  return 1 - weight * betaFraction(b, a, y);
}
