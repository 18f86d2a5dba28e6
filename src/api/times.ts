/** Times on their way out: RFC 3339, milliseconds, Z. */

/** Throws `RangeError` beyond the year 275760. */
export function writeTime(ms: number): string {
  return new Date(ms).toISOString();
}

export function writeTimeOrNull(ms: number | null): string | null {
  return ms === null ? null : writeTime(ms);
}
