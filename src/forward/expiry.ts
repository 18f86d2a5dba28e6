/**
 * What waits too long, or is too much, is given up for a sink, oldest first and the lowest tier first, and entered in the
 * loss ledger; never silently.
 */
import type { OutboxReader } from '../store/outbox-reader.js';
import { TIERS } from '../store/outbox-streams.js';
import { openRanges, type Gap } from './cursor.js';
import type { SinkBook } from './sink-book.js';

/**
 * Bytes of an entry on the disk, with its share of the pages. Measured with 100,000 entries written 200 at a time: 34 of
 * rollups alone, 32 of a plant of 200 sensors with all its streams; 45 of alarms or journal alone, 60 of manifests alone,
 * because these have an index. What waits is nearly all rollups; where it were manifests alone, the cap would be passed by half.
 */
export const ENTRY_BYTES = 40;
const DAY_MS = 86_400_000;
/** Entries that one transaction gives up. */
const AT_ONCE = 20_000;

export interface ExpiryLimits {
  readonly ageDaysMax: number;
  readonly backlogBytesMax: number;
}

/**
 * How many were given up; it does not go on for ever at once, so it is called again and again. `now`: for what is written
 * down; `agedAt`: by which entries are found too old.
 */
export function expireEntries(
  book: SinkBook,
  outbox: OutboxReader,
  limits: ExpiryLimits,
  now: number,
  agedAt: number,
): number {
  const heads = outbox.heads();
  return (
    expireOld(book, outbox, limits, heads, { now, agedAt }) + expireExcess(book, outbox, limits, heads, now)
  );
}

function rangesOf(book: SinkBook, code: number, heads: ReadonlyMap<number, number>): Gap[] {
  return openRanges(book.cursor(code), heads.get(code) ?? 0);
}

function expireOld(
  book: SinkBook,
  outbox: OutboxReader,
  { ageDaysMax }: ExpiryLimits,
  heads: ReadonlyMap<number, number>,
  { now, agedAt }: { readonly now: number; readonly agedAt: number },
): number {
  const before = agedAt - ageDaysMax * DAY_MS;
  const reason = `it waited for more than ${ageDaysMax} days`;
  let given = 0;
  for (const code of book.codes) {
    const [oldest] = rangesOf(book, code, heads);
    if (oldest === undefined) continue;
    const [after, to] = oldest;
    const first = outbox.firstAt(code, after, to);
    if (first === null || first >= before) continue;
    const nth = outbox.nthPosition(code, after, to, AT_ONCE)!;
    const last = outbox.lastBefore(code, after, nth, before);
    if (last !== null) given += book.expire(code, after, last, isGap(book, code), reason, now);
  }
  return given;
}

function isGap(book: SinkBook, code: number): boolean {
  return book.cursor(code).gaps.length > 0;
}

function expireExcess(
  book: SinkBook,
  outbox: OutboxReader,
  { backlogBytesMax }: ExpiryLimits,
  heads: ReadonlyMap<number, number>,
  now: number,
): number {
  const waiting = book.codes.reduce(
    (sum, code) => sum + rangesOf(book, code, heads).reduce((all, [after, to]) => all + to - after, 0),
    0,
  );
  let excess = Math.ceil(waiting - backlogBytesMax / ENTRY_BYTES);
  const reason = `more than ${backlogBytesMax} bytes waited`;
  let given = 0;
  for (const code of TIERS) {
    if (!book.codes.includes(code)) continue;
    // nothing of a higher tier goes while there is anything of this one
    while (excess > 0 && given < AT_ONCE) {
      const [oldest] = rangesOf(book, code, heads);
      if (oldest === undefined) break;
      const [after, to] = oldest;
      const last = outbox.nthPosition(code, after, to, Math.min(excess, AT_ONCE));
      // positions that no entry has
      if (last === null) book.skip([{ code, position: to }], isGap(book, code) ? 'gap' : 'live');
      else {
        const count = book.expire(code, after, last, isGap(book, code), reason, now);
        given += count;
        excess -= count;
      }
    }
  }
  return given;
}
