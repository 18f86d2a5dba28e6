/** Numbers in sentences. */

/** Three significant digits, without an exponent. A counter that dead time swamps has no upper bound. */
export function format(value: number): string {
  if (value === Infinity) return 'more than can be counted';
  if (value >= 100) return value.toFixed(0);
  return value >= 10 ? value.toFixed(1) : value.toFixed(2);
}
