/**
 * Quantiles of the gamma distribution: what turns a count into exact limits. Newton's method of third order (Halley) on
 * the logarithm of the smaller tail as a function of ln x, where both tails are concave for every shape, so that it
 * converges from anywhere; the starts are close enough for one or two steps.
 */
import { gammaP, gammaQ, gammaWeight } from './gamma.js';
import { lnGamma, lnGammaOnePlus } from './ln-gamma.js';
import { normalUpperQuantile } from './normal.js';

const EULER = 0.5772156649015329;
/** ln x below which P(a, x) = x^a / Γ(1 + a) to all digits */
const LN_X_TINY = -40;
const STEPS_MAX = 100;

export type Tail = 'lower' | 'upper';

/**
 * The x ≥ 0 with P(a, x) = p (`tail` lower) or Q(a, x) = p (`tail` upper), shape a > 0, scale 1.
 * p = 0 and p = 1 give the ends 0 and Infinity. A quantile too small for a number is 0 (shape 1e-3, p = 0.025: 1e-1602).
 * Relative error below 1e-12 for shapes from 1e-3 to 1e9. Give small upper tails as such: 1 − p has lost their digits.
 * Throws RangeError outside 0 ≤ p ≤ 1, shape > 0.
 * Source: monotone tails of log-concave densities; starts see `startLower`, `startUpper`.
 */
export function gammaQuantile(p: number, shape: number, tail: Tail = 'lower'): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`gammaQuantile: p must lie from 0 to 1, not ${p}`);
  if (!(shape > 0) || shape === Infinity) {
    throw new RangeError(`gammaQuantile: shape must be above 0, not ${shape}`);
  }
  if (p === 0) return tail === 'lower' ? 0 : Infinity;
  if (p === 1) return tail === 'lower' ? Infinity : 0;
  const isLower = (tail === 'lower') === p <= 0.5;
  return solve(p <= 0.5 ? p : 1 - p, shape, isLower);
}

/** `probability` ≤ 0.5 is the mass of the lower tail, or else of the upper one. */
function solve(probability: number, shape: number, isLower: boolean): number {
  const lnP = isLower ? Math.log(probability) : Math.log1p(-probability);
  if (shape < 20) {
    const lnTiny = (lnP + lnGammaOnePlus(shape)) / shape;
    if (lnTiny < LN_X_TINY) return Math.exp(lnTiny);
  }
  let x = isLower ? startLower(probability, shape) : startUpper(probability, shape);
  const near = 1e-5 / Math.max(1, Math.sqrt(shape));
  for (let i = 0; i < STEPS_MAX; i++) {
    const mass = isLower ? gammaP(shape, x) : gammaQ(shape, x);
    if (mass === 0) {
      x = (x + shape) / 2;
      continue;
    }
    const hazard = gammaWeight(shape, x) / mass;
    const newton = Math.log(mass / probability) / hazard;
    const bend = isLower ? shape - x - hazard : x - shape - hazard;
    const denominator = Math.max(0.5, 1 - (newton * bend) / 2);
    const step = (isLower ? -newton : newton) / denominator;
    x += x * Math.expm1(step);
    if (Math.abs(step) < near) break;
  }
  return x;
}

/**
 * Cornish-Fisher expansion for large shapes, Wilson-Hilferty for middling ones; z is the signed normal quantile.
 * Source: A. R. DiDonato and A. H. Morris, ACM TOMS 12 (1986) 377-393, eq. 31; E. B. Wilson and M. M. Hilferty, PNAS 17 (1931) 684-688.
 */
function startNormal(z: number, shape: number): number {
  const root = Math.sqrt(shape);
  if (shape >= 10 && Math.abs(z) < root) {
    const s2 = z * z;
    const s3 = s2 * z;
    return (
      shape +
      z * root +
      (s2 - 1) / 3 +
      (s3 - 7 * z) / (36 * root) -
      (3 * s2 * s2 + 7 * s2 - 16) / (810 * shape) +
      (9 * s3 * s2 + 256 * s3 - 433 * z) / (38880 * shape * root)
    );
  }
  const cubeRoot = 1 - 1 / (9 * shape) + z / (3 * root);
  return cubeRoot > 0 ? shape * cubeRoot ** 3 : 0;
}

/** From the first terms of P = x^a e^(−x) / Γ(1+a) · (1 + x/(a+1) + …) where they hold, else `startNormal`. */
function startLower(probability: number, shape: number): number {
  const series = (): number => {
    const x = Math.exp((Math.log(probability) + lnGammaOnePlus(shape)) / shape);
    return x * Math.exp(x / (shape + 1));
  };
  if (shape < 1) return series();
  const x = startNormal(-normalUpperQuantile(probability), shape);
  return x > 0.2 * shape ? x : series();
}

/**
 * Shapes below 1: DiDonato and Morris (1986), eqs. 21-25, in B = probability · Γ(a). Far tails of the others: fixed point of
 * x = (a − 1) ln x − ln B. Else `startNormal`.
 */
function startUpper(probability: number, shape: number): number {
  if (shape >= 1) {
    const z = normalUpperQuantile(probability);
    const x = startNormal(z, shape);
    if (z < 8 || x < 2 * shape) return x;
    const y = -Math.log(probability) - lnGamma(shape);
    let far = Math.max(y, x / 2);
    for (let i = 0; i < 3; i++) far = Math.max(y + (shape - 1) * Math.log(far), shape);
    return far;
  }
  const b = probability * Math.exp(lnGamma(shape));
  if (b > 0.6 || (b >= 0.45 && shape >= 0.3)) {
    const u = Math.exp((Math.log1p(-probability) + lnGammaOnePlus(shape)) / shape);
    return u / Math.max(0.1, 1 - u / (shape + 1));
  }
  if (shape < 0.3 && b >= 0.35) {
    const t = Math.exp(-EULER - b);
    return t * Math.exp(t * Math.exp(t));
  }
  const y = -Math.log(b);
  const v = y - (1 - shape) * Math.log(y);
  if (b >= 0.15) return y - (1 - shape) * Math.log(v) - Math.log(1 + (1 - shape) / (1 + v));
  const above = v * v + 2 * (3 - shape) * v + (2 - shape) * (3 - shape);
  return y - (1 - shape) * Math.log(v) - Math.log(above / (v * v + (5 - shape) * v + 2));
}
