/**
 * Many motors are looked at at once, and by chance alone some look odd. Adjusted p-values bound the share of false ones among
 * those that are called.
 */

/**
 * `independent`: Benjamini-Hochberg, also right where the tests depend on one another positively, as motors of one plant do.
 * `any`: Benjamini-Yekutieli, right for every dependence and stricter by about ln n.
 */
export type Dependence = 'independent' | 'any';

/**
 * Adjusted p-values, in the order given: calling those at or below q keeps the expected share of false calls at or below q.
 * Each p lies from 0 to 1, else RangeError. An empty list gives an empty one.
 * Source: Y. Benjamini and Y. Hochberg, JRSS B 57 (1995) 289-300; Y. Benjamini and D. Yekutieli, Annals of Statistics 29 (2001)
 * 1165-1188, theorem 1.3, for `any`.
 */
export function adjustP(p: readonly number[], dependence: Dependence = 'independent'): number[] {
  for (const value of p) {
    if (!(value >= 0 && value <= 1)) throw new RangeError(`adjustP: p must lie from 0 to 1, not ${value}`);
  }
  const n = p.length;
  let harmonic = 1;
  if (dependence === 'any') for (let i = 2; i <= n; i++) harmonic += 1 / i;
  const largestFirst = p.map((_, i) => i).sort((i, j) => p[j]! - p[i]!);
  const adjusted = new Array<number>(n).fill(1);
  let least = 1;
  largestFirst.forEach((index, place) => {
    least = Math.min(least, (p[index]! * n * harmonic) / (n - place));
    adjusted[index] = least;
  });
  return adjusted;
}
