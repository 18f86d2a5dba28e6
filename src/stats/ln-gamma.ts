/**
 * The logarithm of the gamma function and the two small differences around it that keep their digits where the plain
 * formula loses them. Why here: every limit and every tail of this room is scaled by a gamma function, and pulse
 * counts reach 1e9, where ln Γ itself has no digits left to subtract.
 */

/** ln √(2π) */
export const LN_SQRT_TWO_PI = 0.9189385332046728;
const EULER = 0.5772156649015329;

/** (−1)^k · (ζ(k) − 1) / k for k = 2, 3, …; source: ζ(k) − 1 summed to 60 digits, then rounded. */
const ZETA_TERMS = [
  0.3224670334241132, -0.0673523010531981, 0.020580808427784546, -0.007385551028673986, 0.0028905103307415234,
  -0.001192753911703261, 0.0005096695247430425, -0.00022315475845357939, 9.945751278180853e-5,
  -4.492623673813314e-5, 2.050721277567069e-5, -9.439488275268397e-6, 4.374866789907488e-6,
  -2.039215753801366e-6, 9.55141213040742e-7, -4.492469198764566e-7, 2.1207184805554665e-7,
  -1.0043224823968099e-7, 4.7698101693639804e-8, -2.2711094608943164e-8, 1.0838659214896955e-8,
  -5.183475041970047e-9, 2.4836745438024785e-9, -1.1921401405860912e-9, 5.731367241678862e-10,
  -2.7595228851242334e-10,
] as const;

/** Coefficients of 1/z, 1/z³, … in Stirling's series: B(2k) / (2k (2k − 1)). Source: DLMF 5.11.1. */
const STIRLING_TERMS = [
  1 / 12,
  -1 / 360,
  1 / 1260,
  -1 / 1680,
  1 / 1188,
  -691 / 360360,
  1 / 156,
  -3617 / 122400,
] as const;

/** ln Γ(2 + t) for |t| ≤ 0.5, exact to the last digits relative to the result, which passes through 0 at t = 0. */
function lnGammaAroundTwo(t: number): number {
  let sum = 0;
  for (let i = ZETA_TERMS.length - 1; i >= 0; i--) sum = sum * t + ZETA_TERMS[i]!;
  return t * (1 - EULER + t * sum);
}

/**
 * ln Γ(1 + t) for t > −1, with full relative accuracy near its zeros t = 0 and t = 1.
 * Source: Taylor series in ζ(k) − 1 (DLMF 5.7.3) below 1.5, Stirling's series above.
 */
export function lnGammaOnePlus(t: number): number {
  if (t <= 0.5) {
    if (t < -0.5) return lnGammaOnePlus(t + 1) - Math.log1p(t);
    return lnGammaAroundTwo(t) - Math.log1p(t);
  }
  if (t <= 1.5) return lnGammaAroundTwo(t - 1);
  return lnGamma(t + 1);
}

/** ln Γ(z), z > 0. Source: DLMF 5.7.3 below 2.5, the recurrence Γ(z + 1) = z Γ(z) up to 10, DLMF 5.11.1 above. */
export function lnGamma(z: number): number {
  if (!(z > 0)) throw new RangeError(`lnGamma: z must be above 0, not ${z}`);
  if (z < 0.5) return lnGammaOnePlus(z) - Math.log(z);
  if (z <= 2.5) return lnGammaOnePlus(z - 1);
  if (z < 10) {
    let product = 1;
    let rest = z;
    while (rest > 2.5) {
      rest -= 1;
      product *= rest;
    }
    return Math.log(product) + lnGammaAroundTwo(rest - 2);
  }
  return (z - 0.5) * Math.log(z) - z + LN_SQRT_TWO_PI + stirlingError(z);
}

/**
 * ln Γ(z) less Stirling's leading term (z − ½) ln z − z + ln √(2π); about 1 / (12 z). z > 0.
 * Source: DLMF 5.11.1; below 10 by difference, where nothing large cancels.
 */
export function stirlingError(z: number): number {
  if (z < 10) return lnGamma(z) - ((z - 0.5) * Math.log(z) - z + LN_SQRT_TWO_PI);
  const inverseSquare = 1 / (z * z);
  let sum = 0;
  for (let i = STIRLING_TERMS.length - 1; i >= 0; i--) sum = sum * inverseSquare + STIRLING_TERMS[i]!;
  return sum / z;
}

/**
 * Half the deviance of a Poisson count: n ln(n / m) + m − n for n, m above 0, without the cancellation at n near m. `excess` is
 * m − n, given apart where the caller knows it better than the difference of the two.
 * Source: C. Loader, Fast and Accurate Computation of Binomial Probabilities (2000); near m = n by
 * ln((1 + r) / (1 − r)) = 2 Σ r^(2k+1) / (2k + 1).
 */
export function deviance(n: number, m: number, excess = m - n): number {
  const d = excess / n;
  if (d > 0.6 || d < -0.4) return n * Math.log(n / m) + excess;
  const r = d / (2 + d);
  const square = r * r;
  let sum = 0;
  let power = 1;
  for (let k = 3; ; k += 2) {
    const next = sum + power / k;
    if (next === sum) break;
    sum = next;
    power *= square;
  }
  return r * (excess - 2 * n * square * sum);
}
