/**
 * The span of a function check that a person started: while it lasts, somebody makes sparks near the sensor. What the sensor
 * counts then says nothing of the bearing.
 */

/** [from, to), event time in ms, never empty. While nobody has ended it, `to` is the latest that it may last. */
export interface CheckSpan {
  readonly from: number;
  readonly to: number;
}

/**
 * Whether an increment shares time with a check; touching is not overlapping. One without length lies at its `to`; one that ends
 * before it begins lies nowhere. `checks` in order and apart from one another; looked at from the newest, where most rows are.
 */
export function overlapsCheck(
  checks: readonly CheckSpan[],
  { from, to }: { readonly from: number; readonly to: number },
): boolean {
  if (from > to) return false;
  for (let i = checks.length - 1; i >= 0; i--) {
    const check = checks[i]!;
    if (check.to <= from) return false;
    if (check.from < to || (from === to && check.from === to)) return true;
  }
  return false;
}
