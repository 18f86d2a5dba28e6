/**
 * The cumulative sum that finds a small lasting rise: each step adds what exceeds the expected value by more than a reference k, and
 * what was saved below it is forgotten at 0.
 * Source: E. S. Page, Continuous inspection schemes, Biometrika 41 (1954) 100-115; counts J. M. Lucas, Counted data CUSUMs,
 * Technometrics 27 (1985) 129-144.
 */

/** One step of S ← max(0, S + z − k). */
export function stepCusum(sum: number, z: number, reference: number): number {
  return Math.max(0, sum + z - reference);
}

/** The sums after each value, from `start`. For a fall give the negative values. */
export function runCusum(values: readonly number[], reference: number, start = 0): number[] {
  let sum = start;
  return values.map((value) => (sum = stepCusum(sum, value, reference)));
}

/**
 * What an hour (or any block) adds: (O − E) / √(φE). `expected`: rate of the baseline times exposure. Null where nothing is expected
 * (no exposure, or a baseline of 0): such an hour tells nothing and the sum stands still.
 * Source: Pearson residual with quasi-Poisson variance, P. McCullagh and J. A. Nelder, Generalized Linear Models, 2nd ed. (1989).
 */
export function scoreBlock(observed: number, expected: number, dispersion: number): number | null {
  if (!(expected > 0)) return null;
  return (observed - expected) / Math.sqrt(Math.max(1, dispersion) * expected);
}

/**
 * The reference that finds a change of the mean from `meanBefore` to `meanAfter` soonest: (μ1 − μ0) / ln(μ1 / μ0) counts per step.
 * Both above 0 and different, else RangeError. Source: Lucas (1985), from the likelihood ratio.
 */
export function chooseReference(meanBefore: number, meanAfter: number): number {
  if (!(meanBefore > 0 && meanAfter > 0) || meanBefore === meanAfter) {
    throw new RangeError(
      `chooseReference: means must be above 0 and differ, not ${meanBefore}, ${meanAfter}`,
    );
  }
  return (meanAfter - meanBefore) / Math.log(meanAfter / meanBefore);
}
