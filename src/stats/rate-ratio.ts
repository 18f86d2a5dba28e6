/**
 * Two Poisson rates compared exactly: given the pulses of both sides together, those of the first are binomial, and the share
 * depends on the ratio of the rates alone.
 * Source: J. Przyborowski and H. Wilenski, Homogeneity of results in testing samples from Poisson series, Biometrika 31 (1940)
 * 313-323; limits by inversion as C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413.
 */
import { regularisedBeta } from './beta.js';
import { betaOddsQuantile } from './beta-quantile.js';

export interface Count {
  /** pulses ≥ 0; after division by a dispersion it need not be whole */
  readonly pulses: number;
  /** exposure > 0, any unit, the same on both sides */
  readonly exposure: number;
}

/** Limits of the ratio a / b; Infinity: no upper limit, because b has no pulses. */
export interface RatioLimits {
  lower: number;
  upper: number;
}

/** P-values of the ratio against a null ratio. `twoSided` is central: twice the smaller tail, at most 1, as the limits are. */
export interface RatioTest {
  /** P(as many pulses in a, or more): small where the ratio lies above the null ratio */
  greater: number;
  /** P(as many pulses in a, or fewer) */
  less: number;
  twoSided: number;
  /** the same tails with half of the observed outcome's probability taken off: less strict, no guarantee */
  midGreater: number;
  midLess: number;
}

function check(a: Count, b: Count): void {
  if (!(a.pulses >= 0 && b.pulses >= 0)) {
    throw new RangeError(`rate ratio: pulses must be 0 or above, not ${a.pulses} and ${b.pulses}`);
  }
  if (!(a.exposure > 0 && b.exposure > 0)) {
    throw new RangeError(`rate ratio: exposures must be above 0, not ${a.exposure} and ${b.exposure}`);
  }
}

/**
 * Central limits of (rate of a) / (rate of b) at `confidence` (two-sided). No pulses in a: lower 0; none in b: upper Infinity.
 * Throws RangeError for negative pulses or exposures that are not above 0.
 * Source: see above; the odds of a pulse to be of side a are the ratio times the ratio of exposures.
 */
export function conditionalRatioLimits(a: Count, b: Count, confidence: number): RatioLimits {
  check(a, b);
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`rate ratio: confidence must lie between 0 and 1, not ${confidence}`);
  }
  const tail = (1 - confidence) / 2;
  const perOdds = b.exposure / a.exposure;
  return {
    lower: a.pulses === 0 ? 0 : perOdds * betaOddsQuantile(tail, a.pulses, b.pulses + 1),
    upper: b.pulses === 0 ? Infinity : perOdds * betaOddsQuantile(tail, a.pulses + 1, b.pulses, 'upper'),
  };
}

/** Tests against `nullRatio` > 0. No pulses at all: every p is 1, mid-p ½. Throws RangeError as above. */
export function testRatio(a: Count, b: Count, nullRatio = 1): RatioTest {
  check(a, b);
  if (!(nullRatio > 0)) throw new RangeError(`rate ratio: the null ratio must be above 0, not ${nullRatio}`);
  const odds = (nullRatio * a.exposure) / b.exposure;
  const x = odds / (1 + odds);
  const y = 1 / (1 + odds);
  const greater = a.pulses === 0 ? 1 : regularisedBeta(a.pulses, b.pulses + 1, x, y);
  const less = b.pulses === 0 ? 1 : regularisedBeta(b.pulses, a.pulses + 1, y, x);
  const same = Math.max(0, greater + less - 1);
  return {
    greater,
    less,
    twoSided: Math.min(1, 2 * Math.min(greater, less)),
    midGreater: greater - same / 2,
    midLess: less - same / 2,
  };
}
