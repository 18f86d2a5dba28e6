/** Order statistics: the middle of a list, and how far from it the others lie. */

/** Makes the median absolute deviation of normal values their standard deviation: 1 / Φ⁻¹(¾). */
export const MAD_TO_SIGMA = 1.482602218505602;

/** The middle value, or the mean of the two in the middle. Null: an empty list. The list need not be sorted. */
export function median(values: readonly number[]): number | null {
  return medianOfSorted([...values].sort((a, b) => a - b));
}

/** The same of a list in rising order. */
export function medianOfSorted(sorted: readonly number[]): number | null {
  const n = sorted.length;
  if (n === 0) return null;
  const upper = sorted[n >> 1]!;
  return n % 2 === 1 ? upper : (sorted[(n >> 1) - 1]! + upper) / 2;
}

/**
 * Median absolute deviation from the median, unscaled: times `MAD_TO_SIGMA` it is a standard deviation that half of the values
 * cannot spoil. Null: an empty list. Source: F. R. Hampel, JASA 69 (1974) 383-393.
 */
export function medianDeviation(values: readonly number[]): number | null {
  const middle = median(values);
  return middle === null ? null : median(values.map((value) => Math.abs(value - middle)));
}
