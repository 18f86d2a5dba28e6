/** Stretches of time, as few as may be: what is remembered of many records. */

/** `from` inclusive, `to` exclusive, ms */
export type Span = readonly [from: number, to: number];

/** Those that overlap or touch become one; then the closest ones, until there are no more than `most`. In order of time. */
export function joinSpans(spans: readonly Span[], most: number): Span[] {
  const joined: [number, number][] = [];
  for (const [from, to] of [...spans].sort((a, b) => a[0] - b[0])) {
    const last = joined.at(-1);
    if (last !== undefined && from <= last[1]) last[1] = Math.max(last[1], to);
    else joined.push([from, to]);
  }
  while (joined.length > Math.max(1, most)) {
    let closest = 1;
    for (let i = 2; i < joined.length; i++)
      if (joined[i]![0] - joined[i - 1]![1] < joined[closest]![0] - joined[closest - 1]![1]) closest = i;
    joined[closest - 1]![1] = joined[closest]![1];
    joined.splice(closest, 1);
  }
  return joined;
}

export function holds(spans: readonly Span[], at: number): boolean {
  return spans.some(([from, to]) => at >= from && at < to);
}
