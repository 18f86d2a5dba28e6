/**
 * Readings with a sequence but without any time of their own: their order of arrival is all the time there is, so a
 * sequence that falls may be a restart, a repetition, or a reading that was overtaken. The counts tell them apart.
 * Source: our choice. An overtaken reading could only split an increment at a time that nobody knows, so it is dropped,
 * and its pulses stay in that increment.
 */
import type { Increment } from './rows.js';
import { Flag } from './words.js';

function isTimeless(row: Increment): boolean {
  return (row.flags & Flag.noAt) !== 0 && row.upMs === null && row.seq !== null;
}

/**
 * `rows` in order of arrival, `row` newer than all. `repeated`: the same reading again; `overtaken`: it belongs between
 * two that are there; null: it goes on, or it restarted.
 */
export function judgeTimeless(rows: readonly Increment[], row: Increment): 'repeated' | 'overtaken' | null {
  const last = rows[rows.length - 1];
  if (last === undefined || !isTimeless(row) || !isTimeless(last) || row.seq! > last.seq!) return null;
  for (let i = rows.length - 1; i >= 0; i--) {
    const before = rows[i]!;
    if (!isTimeless(before)) return null;
    if (before.seq === row.seq) return before.count === row.count ? 'repeated' : null;
    if (before.seq! < row.seq!) {
      const after = rows[i + 1]!;
      return row.count >= before.count && row.count <= after.count ? 'overtaken' : null;
    }
    if ((before.flags & Flag.anchor) !== 0) return null;
  }
  return null;
}
