/** Upper tail of counts that are more spread out than Poisson ones: what a common burst is judged by. */
import { regularisedBeta } from './beta.js';
import { poissonUpperTail } from './poisson.js';

/** Dispersion so close to 1 that the tails are those of Poisson to more than ten digits. */
const NEARLY_POISSON = 1e-13;

/**
 * P(X ≥ x) for a negative binomial count of mean m ≥ 0 and variance φ·m: I_(1−1/φ)(x, m/(φ−1)). φ ≤ 1 is Poisson. x is rounded up.
 * Relative error below 1e-10 for tails down to 1e-12 and means to 1e7. Throws RangeError for m < 0.
 * Source: relation of the negative binomial to the incomplete beta function (DLMF 8.17.24, for sizes that need not be whole), with
 * size m/(φ−1) so that the variance stays a fixed multiple of the mean.
 */
export function negativeBinomialUpperTail(x: number, mean: number, dispersion: number): number {
  if (!(mean >= 0)) throw new RangeError(`negativeBinomialUpperTail: mean must be 0 or above, not ${mean}`);
  const least = Math.ceil(x);
  if (least <= 0) return 1;
  if (mean === 0) return 0;
  const over = dispersion - 1;
  if (!(over > NEARLY_POISSON)) return poissonUpperTail(least, mean);
  const size = mean / over;
  if (size < 1 && least < 2 * dispersion) return smallSizeTail(least, size, over);
  return regularisedBeta(least, size, over / dispersion, 1 / dispersion);
}

/**
 * The same for sizes below 1 and counts below about 2φ, where nearly all of the mass lies at 0 and 1 − P(X < x) would
 * cancel: the leading 1 − y^r Γ(k+r) / (Γ(k) Γ(1+r)) is taken by expm1.
 * `count` k ≥ 1 whole, `size` r, `over` φ − 1, y = 1/φ. Source: DLMF 8.17.7 for I_y(r, k).
 */
function smallSizeTail(count: number, size: number, over: number): number {
  const lnLead = lnRisingRatio(count, size) - size * Math.log1p(over);
  const y = 1 / (1 + over);
  let term = 1;
  let sum = 0;
  for (let n = 1; n < count; n++) {
    term *= ((n - count) / n) * y;
    const part = term / (size + n);
    sum += part;
    if (Math.abs(part) <= Math.abs(sum) * 2 ** -53) break;
  }
  return -Math.expm1(lnLead) - size * Math.exp(lnLead) * sum;
}

/** Factors of the product below that are multiplied one by one. */
const FACTORS_SINGLE = 64;

/**
 * ln of Γ(k+r) / (Γ(k) Γ(1+r)) = Σ ln(1 + r/j) over j = 1 … k−1, exact relative to its own size however small r ≤ 1 is.
 * Source: the sum itself up to 64, Euler-Maclaurin (DLMF 2.10.1) beyond.
 */
function lnRisingRatio(k: number, r: number): number {
  const last = Math.min(k, FACTORS_SINGLE);
  let sum = 0;
  for (let j = 1; j < last; j++) sum += Math.log1p(r / j);
  if (k <= FACTORS_SINGLE) return sum;
  const value = (j: number): number => Math.log1p(r / j);
  const slope = (j: number): number => -r / (j * (j + r));
  const third = (j: number): number => (-2 * r * (3 * j * j + 3 * j * r + r * r)) / (j * (j + r)) ** 3;
  const integral = k * value(k) - last * value(last) + r * Math.log((k + r) / (last + r));
  const ends = (value(last) - value(k)) / 2 + (slope(k) - slope(last)) / 12 - (third(k) - third(last)) / 720;
  return sum + integral + ends;
}
