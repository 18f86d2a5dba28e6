/**
 * Retention: what is older than its table may keep is deleted in small slices between batches, and the pages freed are
 * given back to the disk.
 */
import type Database from 'better-sqlite3';

/** Days to keep, by what. */
export interface Retention {
  readonly incrementsDays: number;
  readonly minutesDays: number;
  readonly tenMinutesDays: number;
  readonly hoursDays: number;
  readonly journalDays: number;
  readonly quarantineDays: number;
  readonly drivesDays: number;
}

const DAY_MS = 86_400_000;
const SLICE_ROWS = 5000;
const SLICE_PAGES = 2000;

/** Tables clustered by (who, when): deleted by primary key found through a bounded scan of each one's oldest rows. */
const CLUSTERED: readonly { table: string; who: string; when: string; days: keyof Retention }[] = [
  { table: 'increment', who: 'sensor', when: 'to_ms', days: 'incrementsDays' },
  { table: 'window_revision', who: 'sensor', when: 'start', days: 'incrementsDays' },
  { table: 'rollup_1m', who: 'sensor', when: 'start', days: 'minutesDays' },
  { table: 'rollup_10m', who: 'sensor', when: 'start', days: 'tenMinutesDays' },
  { table: 'rollup_1h', who: 'sensor', when: 'start', days: 'hoursDays' },
  { table: 'spread', who: 'sensor', when: 'hour', days: 'hoursDays' },
  { table: 'transient', who: 'motor', when: 'from_ms', days: 'hoursDays' },
  { table: 'drive_message', who: 'motor', when: 'at', days: 'drivesDays' },
  { table: 'drive_presence', who: 'motor', when: 'at', days: 'drivesDays' },
  { table: 'burst', who: 'sensor', when: 'from_ms', days: 'incrementsDays' },
  { table: 'vote', who: 'sensor', when: 'from_ms', days: 'incrementsDays' },
];

/**
 * Deletes up to a slice per table; rows deleted. The newest drive message of each motor stays, however old: it is the
 * state in force.
 */
export function retainRows(db: Database.Database, now: number, retention: Retention): number {
  let deleted = 0;
  const names = db.prepare('SELECT id FROM name').pluck().all() as number[];
  for (const { table, who, when, days } of CLUSTERED) {
    const before = now - retention[days] * DAY_MS;
    const keepsLast =
      table === 'drive_message'
        ? ` AND ${when} < (SELECT max(${when}) FROM ${table} WHERE ${who} = @id)`
        : '';
    const statement = db.prepare(
      `DELETE FROM ${table} WHERE ${who} = @id AND ${when} < min(@before, coalesce(
         (SELECT ${when} FROM ${table} WHERE ${who} = @id ORDER BY ${when} LIMIT 1 OFFSET ${SLICE_ROWS}), @before))${keepsLast}`,
    );
    let left = SLICE_ROWS;
    for (const id of names) {
      if (left <= 0) break;
      const { changes } = statement.run({ id, before });
      left -= changes;
      deleted += changes;
    }
  }
  deleted += db
    .prepare('DELETE FROM journal WHERE id IN (SELECT id FROM journal WHERE at < ? LIMIT ?)')
    .run(now - retention.journalDays * DAY_MS, SLICE_ROWS).changes;
  deleted += db
    .prepare('DELETE FROM quarantine WHERE id IN (SELECT id FROM quarantine WHERE at < ? LIMIT ?)')
    .run(now - retention.quarantineDays * DAY_MS, SLICE_ROWS).changes;
  db.pragma(`incremental_vacuum(${SLICE_PAGES})`);
  return deleted;
}
