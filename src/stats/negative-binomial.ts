/** Upper tail of counts that are more spread out than Poisson ones: what a common burst is judged by. */
import { regularisedBeta } from './beta.js';
import { poissonUpperTail } from './poisson.js';

/** Dispersion so close to 1 that the tails are those of Poisson to more than ten digits. */
const NEARLY_POISSON = 1e-13;

/**
 * P(X ≥ x) for a negative binomial count of mean m ≥ 0 and variance φ·m: I_(1−1/φ)(x, m/(φ−1)). φ ≤ 1 is Poisson. x is rounded up.
 * Relative error below 1e-10 for tails down to 1e-12 and means to 1e7. Throws RangeError for m < 0.
 * Source: K. Pearson's relation of the negative binomial to the incomplete beta function (DLMF 8.17.24), with size m/(φ−1)
 * so that the variance stays a fixed multiple of the mean.
 */
export function negativeBinomialUpperTail(x: number, mean: number, dispersion: number): number {
  if (!(mean >= 0)) throw new RangeError(`negativeBinomialUpperTail: mean must be 0 or above, not ${mean}`);
  const least = Math.ceil(x);
  if (least <= 0) return 1;
  if (mean === 0) return 0;
  const over = dispersion - 1;
  if (!(over > NEARLY_POISSON)) return poissonUpperTail(least, mean);
  return regularisedBeta(least, mean / over, over / dispersion, 1 / dispersion);
}
