/** The stretch of time that a chart shows, and how it is moved and zoomed. Pure; times in ms. */

export interface Span {
  readonly from: number;
  readonly to: number;
}

export const SPAN_LEAST_MS = 60_000;
export const SPAN_MOST_MS = 30 * 366 * 86_400_000;
/** A chart looks this share of its span beyond now at the most. */
const AHEAD_SHARE = 0.02;

/** Zooms so that what is at `at` stays where it is. `factor` above 1: a shorter span. */
export function zoomSpan({ from, to }: Span, at: number, factor: number, now: number): Span {
  const length = Math.min(SPAN_MOST_MS, Math.max(SPAN_LEAST_MS, (to - from) / factor));
  const share = Math.min(1, Math.max(0, (at - from) / (to - from)));
  return keepInTime({ from: at - share * length, to: at + (1 - share) * length }, now);
}

/** Moves by a share of the span; above 0: later. */
export function moveSpan({ from, to }: Span, share: number, now: number): Span {
  const by = share * (to - from);
  return keepInTime({ from: from + by, to: to + by }, now);
}

/** The same length, nowhere much beyond now, nowhere before 1970, in whole ms. */
export function keepInTime({ from, to }: Span, now: number): Span {
  const length = Math.max(SPAN_LEAST_MS, Math.min(SPAN_MOST_MS, to - from));
  const latest = now + AHEAD_SHARE * length;
  const end = Math.min(latest, to);
  const begin = Math.max(0, end - length);
  return { from: Math.round(begin), to: Math.round(begin + length) };
}

/** The span of that length that has now in sight. Ended anew each second it keeps its length. */
export function endNow(lengthMs: number, now: number): Span {
  const to = now + Math.round(AHEAD_SHARE * lengthMs);
  return keepInTime({ from: to - lengthMs, to }, now);
}

/** Whether now is in sight, so that the chart should follow it. */
export function isAtNow({ to }: Span, now: number): boolean {
  return to >= now;
}

/** What to load for a span: half as much again on either side, so that moving a little shows no edge. */
export function loadingSpan({ from, to }: Span): Span {
  const margin = Math.round((to - from) / 2);
  return { from: Math.max(0, from - margin), to: to + margin };
}

/** Whether what was loaded covers the span, and finely enough: no coarser than half of what a new load would bring. */
export function isEnough(loaded: Span, shown: Span, now: number): boolean {
  const fine = (loaded.to - loaded.from) / (shown.to - shown.from) <= 4;
  return fine && loaded.from <= shown.from && loaded.to >= Math.min(shown.to, now);
}

/** One text for each span. */
export function nameSpan({ from, to }: Span): string {
  return `${from} ${to}`;
}
