/** The tails of the normal distribution and their inverse: the limit that every large count tends to. */

/**
 * Chebyshev coefficients of (1 + 2x) exp(x²) erfc(x) in (x − 3.75) / (x + 3.75), x ≥ 0 (the first one already halved).
 * Source: form after M. M. Shepherd and J. G. Laframboise, Math. Comp. 36 (1981) 249-253; coefficients computed here
 * from 60 nodes at 40 digits.
 */
const CHEBYSHEV = [
  1.1775789345674017, -0.004590054580646478, -0.08424913336651792, 0.05920993999819189, -0.026658668435305753,
  0.009074997670705265, -0.002413163540417608, 0.0004907758365258086, -6.916973302501207e-5,
  4.13902798607301e-6, 7.74038306619849e-7, -2.1886401049234397e-7, 1.076499946567091e-8,
  4.521959811218287e-9, -7.754400208831351e-10, -6.318088340886684e-11, 2.86879501093067e-11,
  1.9455868545777347e-13, -9.65469674843344e-13, 3.25254814814874e-14, 3.3478119482868056e-14,
  -1.864562880419313e-15, -1.2507950530688648e-15, 7.418235256624044e-17, 5.068148904796111e-17,
] as const;

/** exp(x²) erfc(x) for x ≥ 0: the complementary error function with its steep factor taken out. */
export function scaledErfc(x: number): number {
  const t = (x - 3.75) / (x + 3.75);
  let b1 = 0;
  let b2 = 0;
  for (let i = CHEBYSHEV.length - 1; i > 0; i--) {
    const b0 = 2 * t * b1 - b2 + CHEBYSHEV[i]!;
    b2 = b1;
    b1 = b0;
  }
  return (t * b1 - b2 + CHEBYSHEV[0]) / (1 + 2 * x);
}

/**
 * The z ≥ 0 with P(Z > z) = `tail`, for 0 < tail ≤ 0.5; relative error about 1e-15.
 * Source: start M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964) 26.2.23; two Halley steps on the
 * logarithm of the tail.
 */
export function normalUpperQuantile(tail: number): number {
  if (tail === 0.5) return 0;
  const lnTail = Math.log(tail);
  const w = Math.sqrt(-2 * lnTail);
  const above = 2.515517 + w * (0.802853 + w * 0.010328);
  const below = 1 + w * (1.432788 + w * (0.189269 + w * 0.001308));
  let z = Math.max(0, w - above / below);
  for (let i = 0; i < 2; i++) {
    const scaled = scaledErfc(z * Math.SQRT1_2) / 2;
    const excess = Math.log(scaled) - (z * z) / 2 - lnTail;
    const hazard = 1 / (scaled * Math.sqrt(2 * Math.PI));
    const newton = excess / hazard;
    z += newton / (1 + (newton * (hazard - z)) / 2);
  }
  return z;
}

/** P(Z > z) for any z; relative error about 1e-15 in the far tail. Source: erfc, see `CHEBYSHEV`. */
export function normalUpperTail(z: number): number {
  if (z < 0) return 1 - normalUpperTail(-z);
  return (scaledErfc(z * Math.SQRT1_2) / 2) * Math.exp(-(z * z) / 2);
}

/** The z with P(Z ≤ z) = p; −Infinity at 0, Infinity at 1. Near p = 1 use `normalUpperQuantile`, which keeps the digits of the tail. */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`normalQuantile: p must lie from 0 to 1, not ${p}`);
  if (p === 0 || p === 1) return p === 0 ? -Infinity : Infinity;
  return p < 0.5 ? -normalUpperQuantile(p) : normalUpperQuantile(1 - p);
}

/** Probability of a |Z| at least as large as |z|: the two-sided p-value. */
export function normalTwoSided(z: number): number {
  return Math.min(1, 2 * normalUpperTail(Math.abs(z)));
}

/** Density of the standard normal distribution. */
export function normalDensity(z: number): number {
  return Math.exp(-(z * z) / 2) / Math.sqrt(2 * Math.PI);
}
