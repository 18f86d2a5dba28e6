/**
 * Dead time of a counter that ignores what comes within τ of a counted pulse and is not prolonged by it
 * (non-paralysable). Source: G. F. Knoll, Radiation Detection and Measurement, chapter 4, section VII.
 */

/** Share of dead time m·τ beyond which a corrected rate is `uncertain`: our choice, half of all pulses are then a guess. */
export const DEAD_SHARE_CERTAIN = 0.5;

/** True rate n = m / (1 − m τ) from the counted rate m; both per second, τ in seconds. Infinity where m τ ≥ 1. */
export function trueRatePerS(countedPerS: number, deadTimeS: number): number {
  const live = 1 - countedPerS * deadTimeS;
  return live > 0 ? countedPerS / live : Infinity;
}

/** Counted rate m = n / (1 + n τ) that a true rate n gives; both per second. n = Infinity gives 1/τ. */
export function countedRatePerS(truePerS: number, deadTimeS: number): number {
  if (truePerS === Infinity) return deadTimeS > 0 ? 1 / deadTimeS : Infinity;
  return truePerS / (1 + truePerS * deadTimeS);
}

/** Whether m τ lies beyond the share up to which the correction can be trusted. */
export function isSaturated(countedPerS: number, deadTimeS: number): boolean {
  return countedPerS * deadTimeS > DEAD_SHARE_CERTAIN;
}

/**
 * Variance of the true rate (per second, squared) from the variance of the counted one: first order, dn/dm = 1/(1 − m τ)².
 * Infinity where m τ ≥ 1. Source: propagation of error through n = m / (1 − m τ).
 */
export function trueRateVariance(countedPerS: number, countedVariance: number, deadTimeS: number): number {
  const live = 1 - countedPerS * deadTimeS;
  return live > 0 ? countedVariance / live ** 4 : Infinity;
}

/**
 * Variance of the pulses counted in a long time t (s) when true pulses are Poisson with rate n per s: n t / (1 + n τ)³.
 * It is below their mean, n t / (1 + n τ): dead time makes counts more regular. Source: W. Feller, On probability problems
 * in the theory of counters (1948), renewal variance.
 */
export function countedVariance(truePerS: number, durationS: number, deadTimeS: number): number {
  return (truePerS * durationS) / (1 + truePerS * deadTimeS) ** 3;
}
