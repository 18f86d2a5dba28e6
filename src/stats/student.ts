/** Student's t: limits from a spread that was itself estimated. */
import { regularisedBeta } from './beta.js';
import { betaOddsQuantile } from './beta-quantile.js';
import { normalUpperQuantile, normalUpperTail } from './normal.js';

/** Degrees of freedom beyond which t and the normal distribution agree to eight digits. */
const NEARLY_NORMAL = 1e9;

/** P(T > t) for `freedom` > 0, which need not be whole. Source: DLMF 8.17 with x = ν / (ν + t²). */
export function studentUpperTail(t: number, freedom: number): number {
  if (!(freedom > 0)) throw new RangeError(`studentUpperTail: freedom must be above 0, not ${freedom}`);
  if (freedom >= NEARLY_NORMAL) return normalUpperTail(t);
  const whole = freedom + t * t;
  const half = regularisedBeta(freedom / 2, 0.5, freedom / whole, (t * t) / whole) / 2;
  return t >= 0 ? half : 1 - half;
}

/** The t ≥ 0 with P(T > t) = `tail`, 0 < tail ≤ 0.5. Source: the same relation, inverted. */
export function studentUpperQuantile(tail: number, freedom: number): number {
  if (!(tail > 0 && tail <= 0.5)) {
    throw new RangeError(`studentUpperQuantile: tail must lie in (0, 0.5], not ${tail}`);
  }
  if (freedom >= NEARLY_NORMAL) return normalUpperQuantile(tail);
  return Math.sqrt(freedom / betaOddsQuantile(2 * tail, freedom / 2, 0.5));
}
