/**
 * The regularised incomplete beta function: tails of the negative binomial, binomial and Student distributions.
 */
import { deviance, LN_SQRT_TWO_PI, stirlingError } from './ln-gamma.js';

const EPSILON = 2 ** -52;
const STEPS_MAX = 1_000_000;

/**
 * x^a y^b / B(a, b) with y = 1 − x and `excess` = b x − a y. Keeps its digits for large a and b.
 * Source: deviance form after C. Loader (2000), Stirling remainders apart.
 */
export function betaWeight(a: number, b: number, x: number, y: number, excess: number): number {
  const n = a + b;
  const drop = deviance(a, n * x, excess) + deviance(b, n * y, -excess);
  const lnScale = 0.5 * (Math.log(a) - Math.log1p(a / b)) - LN_SQRT_TWO_PI;
  return Math.exp(lnScale - drop + stirlingError(n) - stirlingError(a) - stirlingError(b));
}

/**
 * I_x(a, b) over its weight, for x at or below the mean a/(a+b) or little above. `excess` as above; it enters alone, so that
 * nothing cancels when b is 1e16 and x 1e-9.
 * Source: even part of DLMF 8.17.22, its denominators multiplied by a + 2n, by the modified Lentz method.
 */
function betaFraction(a: number, b: number, x: number, y: number, excess: number): number {
  let value = (a / (a + 1)) * (1 - excess);
  let c = value;
  let d = 0;
  for (let n = 1; n < STEPS_MAX; n++) {
    const odd = a + 2 * n - 1;
    const w = n * (b - n) * x;
    const above = ((a + n - 1) / odd) * ((a + b + n - 1) / odd) * w * x;
    const below = n + w / odd + ((a + n) / (odd + 2)) * (1 - excess + n * (1 + y));
    d = 1 / (below + above * d);
    c = below + above / c;
    const step = c * d;
    value *= step;
    if (Math.abs(step - 1) <= EPSILON) break;
  }
  return 1 / value;
}

/**
 * I_x(a, b), a and b above 0, 0 ≤ x ≤ 1. `y` is 1 − x, given apart because near x = 1 it cannot be had from x.
 * The side beyond the mean a/(a+b) is computed directly, so its small tails keep their digits.
 * Throws RangeError for arguments out of range. Source: DLMF 8.17.4 for the mirror.
 */
export function regularisedBeta(a: number, b: number, x: number, y = 1 - x): number {
  if (!(a > 0 && b > 0)) throw new RangeError(`regularisedBeta: a and b must be above 0, not ${a} and ${b}`);
  if (!(x >= 0 && y >= 0)) throw new RangeError(`regularisedBeta: x must lie from 0 to 1, not ${x}`);
  if (x === 0 || y === 0) return x === 0 ? 0 : 1;
  const excess = b * x - a * y;
  const weight = betaWeight(a, b, x, y, excess);
  if (excess <= 0) return weight * betaFraction(a, b, x, y, excess);
  return 1 - weight * betaFraction(b, a, y, x, -excess);
}
