/**
 * Quantiles of the beta distribution, as odds: what turns the share of one side into limits of a rate ratio. Newton's method of third
 * order (Halley) on the logarithm of the smaller tail as a function of the log odds, where the density x^a y^b / B(a, b) is
 * log-concave, and so are both tails: it converges from anywhere.
 */
import { betaWeight, regularisedBeta } from './beta.js';
import type { Tail } from './gamma-quantile.js';
import { normalUpperQuantile } from './normal.js';

const STEPS_MAX = 200;
/** Longest step in the log odds: keeps a far start from leaving the range of numbers. */
const STEP_LONGEST = 40;
/** Log odds beyond which the odds are no number any more. */
const LOG_ODDS_MAX = 700;

/**
 * The odds x / (1 − x) at which I_x(a, b) = p (`tail` lower) or 1 − I_x(a, b) = p (`tail` upper); a and b above 0, and not whole
 * as a rule. Odds because they keep their digits at both ends. p = 0 and p = 1 give the ends 0 and Infinity; so does what is too
 * small or too large for a number. Relative error below 1e-11 for a and b from 1e-2 to 1e8.
 * Throws RangeError outside 0 ≤ p ≤ 1, a > 0, b > 0.
 * Source: tails of log-concave densities are log-concave; start by the normal approximation of the log odds.
 */
export function betaOddsQuantile(p: number, a: number, b: number, tail: Tail = 'lower'): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`betaOddsQuantile: p must lie from 0 to 1, not ${p}`);
  if (!(a > 0 && b > 0)) {
    throw new RangeError(`betaOddsQuantile: a and b must be above 0, not ${a} and ${b}`);
  }
  if (p === 0 || p === 1) return (tail === 'lower') === (p === 0) ? 0 : Infinity;
  const isLower = (tail === 'lower') === p <= 0.5;
  const probability = p <= 0.5 ? p : 1 - p;
  return isLower ? solveLower(probability, a, b) : 1 / solveLower(probability, b, a);
}

/** Odds with that mass ≤ 0.5 below them. An upper tail is the lower one of the mirrored distribution. */
function solveLower(probability: number, a: number, b: number): number {
  const z = normalUpperQuantile(probability);
  let u = Math.log(a / b) - z * Math.sqrt(1 / a + 1 / b);
  const near = 1e-6 * Math.sqrt(1 / a + 1 / b);
  for (let i = 0; i < STEPS_MAX; i++) {
    if (u < -LOG_ODDS_MAX) return 0;
    const odds = Math.exp(u);
    const x = odds / (1 + odds);
    const y = 1 / (1 + odds);
    const mass = regularisedBeta(a, b, x, y);
    if (mass === 0) {
      u += STEP_LONGEST;
      continue;
    }
    const hazard = betaWeight(a, b, x, y, b * x - a * y) / mass;
    if (hazard === 0) {
      u -= STEP_LONGEST;
      continue;
    }
    const newton = Math.log(mass / probability) / hazard;
    const bend = a * y - b * x - hazard;
    const step = newton / Math.max(0.5, 1 - (newton * bend) / 2);
    u -= Math.max(-STEP_LONGEST, Math.min(STEP_LONGEST, step));
    if (Math.abs(step) < near) break;
  }
  return Math.exp(u);
}
