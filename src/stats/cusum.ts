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
