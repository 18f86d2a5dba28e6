/**
 * Puts increments that end at the same instant into an order that does not depend on how the store numbers its counters,
 * across the pages of the store too.
 */
import type { IncrementRecord } from '../store/reader.js';

function compareTexts(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function compareIncrements(a: IncrementRecord, b: IncrementRecord): number {
  return (
    a.to - b.to ||
    compareTexts(a.device, b.device) ||
    (a.boot ?? -1) - (b.boot ?? -1) ||
    (a.seq ?? -1) - (b.seq ?? -1) ||
    a.count - b.count
  );
}

/** Expects each sensor's pages one after the other, ascending by `to`. Rows of the last instant wait for the next page. */
export function* orderIncrements(pages: Iterable<readonly IncrementRecord[]>): Generator<IncrementRecord[]> {
  let waiting: IncrementRecord[] = [];
  for (const page of pages) {
    const first = page[0];
    if (first === undefined) continue;
    if (waiting[0] !== undefined && waiting[0].sensor !== first.sensor) {
      yield waiting.sort(compareIncrements);
      waiting = [];
    }
    const rows = [...waiting, ...page];
    const last = rows.at(-1)?.to;
    const open = rows.findIndex((row) => row.to === last);
    waiting = rows.splice(open);
    if (rows.length > 0) yield rows.sort(compareIncrements);
  }
  if (waiting.length > 0) yield waiting.sort(compareIncrements);
}
