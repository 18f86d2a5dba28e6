/** Places in lists that are ordered by time. */

/** First index of ascending rows whose `at` is at or after a time. */
export function placeAt(rows: readonly { at: number }[], at: number): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle]!.at < at) low = middle + 1;
    else high = middle;
  }
  return low;
}
