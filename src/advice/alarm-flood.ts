/**
 * Floods: an operator position gets more than it can take in. One begins when more than 10 alarms came within 10 minutes and
 * ends when fewer than 5 did.
 * Source: ISA-18.2 and IEC 62682, as secondary texts restate them. That the 10 minutes slide is our choice.
 */
import type { Span } from './alarm-load.js';

export const FLOOD_WINDOW_MS = 600_000;
export const FLOOD_BEGINS_ABOVE = 10;
export const FLOOD_ENDS_BELOW = 5;

/**
 * `times`: ascending, from long enough before the span on that no flood is met half way. What counts at an instant are the
 * alarms of the 10 minutes up to it, those at the instant included, those exactly 10 minutes old not any more.
 * Floods are cut to the span; in order.
 */
export function findFloods(times: readonly number[], span: Span, positions: number): Span[] {
  const floods: Span[] = [];
  const keep = (from: number, to: number): void => {
    const cut = { from: Math.max(from, span.from), to: Math.min(to, span.to) };
    if (cut.from < cut.to) floods.push(cut);
  };
  let came = 0;
  let gone = 0;
  let begunAt: number | null = null;
  while (gone < times.length) {
    const comes = times[came] ?? Infinity;
    const at = Math.min(comes, times[gone]! + FLOOD_WINDOW_MS);
    while (came < times.length && times[came]! <= at) came += 1;
    while (gone < came && times[gone]! + FLOOD_WINDOW_MS <= at) gone += 1;
    const standing = came - gone;
    if (begunAt === null && standing > FLOOD_BEGINS_ABOVE * positions) begunAt = at;
    else if (begunAt !== null && standing < FLOOD_ENDS_BELOW * positions) {
      keep(begunAt, at);
      begunAt = null;
    }
  }
  return floods;
}
