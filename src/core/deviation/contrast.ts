/**
 * What was counted against what was expected: the ratio with limits that carry the bursts of the count and the doubt of the
 * expectation.
 * Source: limits of each side combined on the log scale (G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008)
 * 1693-1702), each side's own after Garwood 1936 on N/φ.
 */
import { poissonLimits } from '../../stats/poisson.js';
import type { Expected } from './baseline.js';

export interface Contrast {
  ratio: number;
  lower: number;
  upper: number;
}

/**
 * Ratio of `pulses` to the expectation, with two-sided limits; null when nothing was expected. φ is that of the expectation's
 * bins, Σφe/Σe, never that of the counts under judgement: a rise would widen its own limits.
 */
export function contrastOf(pulses: number, expected: Expected, confidence: number): Contrast | null {
  if (!(expected.pulses > 0)) return null;
  const dispersion = Math.max(1, expected.variance / expected.pulses);
  const counted = poissonLimits(pulses, confidence, dispersion);
  const known = expected.pulses ** 2 / Math.max(expected.doubt, Number.MIN_VALUE);
  const yardstick = known > 1e12 ? { lower: known, upper: known } : poissonLimits(known, confidence);
  const ratio = pulses / expected.pulses;
  const lower =
    counted.lower === 0
      ? 0
      : ratio * Math.exp(-Math.hypot(Math.log(pulses / counted.lower), Math.log(yardstick.upper / known)));
  const above = yardstick.lower > 0 ? Math.log(known / yardstick.lower) : Infinity;
  const base = pulses > 0 ? pulses : counted.upper;
  const upper = (base / expected.pulses) * Math.exp(Math.hypot(Math.log(counted.upper / base), above));
  return { ratio, lower, upper };
}
