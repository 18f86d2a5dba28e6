/**
 * Exact limits of a Poisson mean, widened by the dispersion of the counts, and the tails of the Poisson distribution.
 * Source: F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
 */
import { DEAD_SHARE_CERTAIN, isSaturated, trueRatePerS } from './dead-time.js';
import { gammaP, gammaQ } from './gamma.js';
import { gammaQuantile } from './gamma-quantile.js';

export interface Limits {
  lower: number;
  upper: number;
}

export interface RateOptions {
  /** two-sided, 0 < confidence < 1, e.g. 0.95 */
  confidence: number;
  /** variance over mean of the counts, 1 for Poisson */
  dispersion: number;
  /** dead time of the device in seconds; 0: none */
  deadTimeS: number;
}

export interface RateLimits {
  ratePerMin: number;
  lowerPerMin: number;
  /** Infinity: the dead time leaves no upper bound */
  upperPerMin: number;
  /** dead time takes more than half, or leaves the upper limit open */
  uncertain: boolean;
}

/**
 * Central limits of the mean number of pulses, at `confidence` (two-sided, between 0 and 1), after `pulses` were
 * counted. Lower: quantile (1 − confidence)/2 of a gamma variable of shape N/φ; upper: the same tail above, shape N/φ + 1;
 * both times φ. N/φ need not be whole. `lower` is 0 at 0 pulses. Holds from 0 to 1e9 pulses and more.
 * Source: Garwood 1936 for φ = 1; scaling a count to its effective size N/φ (quasi-Poisson) is our choice.
 */
export function poissonLimits(pulses: number, confidence: number, dispersion = 1): Limits {
  if (!(pulses >= 0)) throw new RangeError(`poissonLimits: pulses must be 0 or above, not ${pulses}`);
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`poissonLimits: confidence must lie between 0 and 1, not ${confidence}`);
  }
  if (!(dispersion > 0)) throw new RangeError(`poissonLimits: dispersion must be above 0, not ${dispersion}`);
  const tail = (1 - confidence) / 2;
  const effective = pulses / dispersion;
  return {
    lower: effective === 0 ? 0 : dispersion * gammaQuantile(tail, effective),
    upper: dispersion * gammaQuantile(tail, effective + 1, 'upper'),
  };
}

/**
 * Rate and limits per minute of running exposure; null when there is no exposure, for then there is no rate. Dead time
 * corrects the rate and both limits last, each through n = m / (1 − m τ).
 */
export function rateLimits(pulses: number, exposureMs: number, options: RateOptions): RateLimits | null {
  if (!(exposureMs > 0)) return null;
  const { lower, upper } = poissonLimits(pulses, options.confidence, options.dispersion);
  const exposureS = exposureMs / 1000;
  const perMin = (counted: number): number => 60 * trueRatePerS(counted / exposureS, options.deadTimeS);
  const upperPerMin = perMin(upper);
  return {
    ratePerMin: perMin(pulses),
    lowerPerMin: perMin(lower),
    upperPerMin,
    uncertain: upperPerMin === Infinity || isSaturated(pulses / exposureS, options.deadTimeS),
  };
}

/** P(X ≥ x) of a Poisson variable with the given mean ≥ 0: P(x, mean). x is rounded up to a whole number. */
export function poissonUpperTail(x: number, mean: number): number {
  const least = Math.ceil(x);
  if (least <= 0) return 1;
  return gammaP(least, mean);
}

/** P(X ≤ x) of a Poisson variable with the given mean ≥ 0: Q(x + 1, mean). x is rounded down. */
export function poissonLowerTail(x: number, mean: number): number {
  const most = Math.floor(x);
  if (most < 0) return 0;
  return gammaQ(most + 1, mean);
}

/**
 * The smallest setpoint, per minute of running exposure, that counts in a window of `windowMs` can decide in both
 * directions: the upper limit of the rate after a whole window without one pulse, −φ ln((1 − confidence)/2) over the
 * window. At or below it not even silence shows that the rate is under the setpoint, so an alarm raised on it could not
 * return within its window, and above it some count always shows the rate over. With a deadband compare the
 * setpoint less the deadband with it. Infinity for a window of 0.
 * Source: Garwood 1936 at N = 0; the criterion is our choice.
 */
export function smallestResolvableSetpoint(windowMs: number, confidence: number, dispersion = 1): number {
  if (!(windowMs > 0)) return Infinity;
  return poissonLimits(0, confidence, dispersion).upper / (windowMs / 60_000);
}

/**
 * The largest setpoint, per minute, that a device with this dead time can decide on: 1/τ per second, the true rate at
 * which half of the time is dead. Beyond it every corrected rate is `uncertain`. Infinity without dead time.
 * Source: n = m / (1 − m τ) at m τ = 0.5.
 */
export function largestResolvableSetpoint(deadTimeS: number): number {
  return deadTimeS > 0 ? (60 / deadTimeS) * (DEAD_SHARE_CERTAIN / (1 - DEAD_SHARE_CERTAIN)) : Infinity;
}
