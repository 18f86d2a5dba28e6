/**
 * Retention: what is older than its table may keep is deleted in small slices between batches, and the pages freed are
 * given back to the disk. A segment goes some time after its last increment; its counter, when the store is opened next.
 * Of the journal the oldest entries go, and an entry says so, see write-journal.ts.
 */
import { KEPT_ROWS } from './load.js';
import type { Statements } from './statements.js';
import type { JournalWriter } from './write-journal.js';

/** Days to keep, by what. */
export interface Retention {
  readonly incrementsDays: number;
  /** revisions of 10 s windows; absent: as long as the increments */
  readonly windowsDays?: number;
  readonly minutesDays: number;
  readonly tenMinutesDays: number;
  readonly hoursDays: number;
  readonly journalDays: number;
  readonly quarantineDays: number;
  readonly drivesDays: number;
}

const DAY_MS = 86_400_000;
const SLICE_ROWS = 4000;
/** Sensors or motors looked at for one table in one slice. */
const SLICE_NAMES = 32;
const SLICE_PAGES = 500;
/** Counters removed at one opening: to be sure that one is empty, all of its sensor's readings are looked through. */
const CHAINS_AT_OPENING = 100;
/** Free pages that are left in the file for the rows to come. */
const SPARE_PAGES = 64;

interface Kept {
  readonly table: string;
  readonly who: 'sensor' | 'motor';
  readonly when: string;
  readonly days: keyof Retention;
  /** newest rows of each that stay however old they are: the core goes on from them */
  readonly newest: number;
}

/** Tables clustered by (who, when): the oldest rows of each lie together, so deleting them frees whole pages. */
const CLUSTERED: readonly Kept[] = [
  { table: 'increment', who: 'sensor', when: 'to_ms', days: 'incrementsDays', newest: KEPT_ROWS },
  { table: 'window_revision', who: 'sensor', when: 'start', days: 'windowsDays', newest: 0 },
  { table: 'rollup_1m', who: 'sensor', when: 'start', days: 'minutesDays', newest: 0 },
  { table: 'rollup_10m', who: 'sensor', when: 'start', days: 'tenMinutesDays', newest: 0 },
  { table: 'rollup_1h', who: 'sensor', when: 'start', days: 'hoursDays', newest: 0 },
  { table: 'rollup_bin_1m', who: 'sensor', when: 'start', days: 'minutesDays', newest: 0 },
  { table: 'rollup_bin_10m', who: 'sensor', when: 'start', days: 'tenMinutesDays', newest: 0 },
  { table: 'rollup_bin_1h', who: 'sensor', when: 'start', days: 'hoursDays', newest: 0 },
  { table: 'rollup_bin_1d', who: 'sensor', when: 'start', days: 'hoursDays', newest: 0 },
  { table: 'spread', who: 'sensor', when: 'hour', days: 'hoursDays', newest: 0 },
  { table: 'transient', who: 'motor', when: 'from_ms', days: 'hoursDays', newest: 0 },
  { table: 'drive_message', who: 'motor', when: 'at', days: 'drivesDays', newest: 1 },
  { table: 'drive_presence', who: 'motor', when: 'at', days: 'drivesDays', newest: 1 },
  { table: 'burst', who: 'sensor', when: 'from_ms', days: 'incrementsDays', newest: 0 },
  { table: 'vote', who: 'sensor', when: 'from_ms', days: 'incrementsDays', newest: 0 },
];

/**
 * Does a slice, in a transaction of its own; rows deleted and pages given back. 0: there is nothing left to do.
 * A sensor is not visited for a few rows, but when a hundredth more than its time has gathered.
 */
export function retainRows(
  statements: Statements,
  journal: JournalWriter,
  now: number,
  retention: Retention,
): number {
  const slice = statements.db.transaction(() => {
    let left = SLICE_ROWS;
    for (const kept of CLUSTERED)
      if (left > 0) left -= retainTable(statements, kept, now, daysOf(retention, kept.days) * DAY_MS, left);
    if (left > 0) left -= journal.removeOldest(now, retention.journalDays * DAY_MS, left);
    if (left > 0) {
      const sql = `DELETE FROM quarantine WHERE id IN (SELECT id FROM quarantine WHERE at < ? ORDER BY at LIMIT ?)`;
      left -= statements.prepare(sql).run(now - retention.quarantineDays * DAY_MS, left).changes;
    }
    return SLICE_ROWS - left;
  });
  try {
    return slice() + giveBackPages(statements);
  } catch (error) {
    journal.reload();
    throw error;
  }
}

function daysOf(retention: Retention, key: keyof Retention): number {
  return retention[key] ?? retention.incrementsDays;
}

/** Deletes about `most` rows at most, of a few sensors or motors that have gathered enough to be worth it; how many. */
function retainTable(
  statements: Statements,
  { table, who, when, newest }: Kept,
  now: number,
  keptMs: number,
  most: number,
): number {
  const until = now - keptMs;
  const kept = `(SELECT ${when} FROM ${table} WHERE ${who} = name.id ORDER BY ${when} DESC LIMIT 1 OFFSET ${newest - 1})`;
  const bound = newest === 0 ? '?' : `min(?, coalesce(${kept}, 0))`;
  const due = statements.all(
    `SELECT id, ${bound} FROM name
     WHERE (SELECT min(${when}) FROM ${table} WHERE ${who} = name.id) < ${bound} LIMIT ${SLICE_NAMES}`,
    until,
    until - keptMs / 100,
  ) as [number, number][];
  let deleted = 0;
  for (const [id, before] of due) {
    if (deleted >= most) break;
    const slice = `SELECT ${when} FROM ${table} WHERE ${who} = ? ORDER BY ${when} LIMIT 1 OFFSET ?`;
    const end = statements.value(slice, id, most - deleted) as number | null;
    deleted += statements
      .prepare(`DELETE FROM ${table} WHERE ${who} = ? AND ${when} < ?`)
      .run(id, Math.min(before, end ?? before)).changes;
    if (table === 'increment') removeTraces(statements, id, keptMs / 10);
  }
  return deleted;
}

/**
 * What tells where a counter's readings lie goes with the readings; segments follow `marginMs` later, when no straggler
 * of theirs can be left that the ledger would then miss.
 */
function removeTraces(statements: Statements, sensor: number, marginMs: number): void {
  const oldest = statements.value('SELECT min(to_ms) FROM increment WHERE sensor = ?', sensor) as
    number | null;
  if (oldest === null) return;
  statements
    .prepare('DELETE FROM chain_part WHERE chain IN (SELECT id FROM chain WHERE sensor = ?) AND most_to < ?')
    .run(sensor, oldest);
  statements
    .prepare('DELETE FROM segment WHERE sensor = ? AND last_to < ?')
    .run(sensor, Math.floor(oldest - marginMs));
}

/**
 * Removes counters that nothing is left of; how many. Only for a store that was just opened: a core that is running may
 * still know them, and write to one again without putting it out anew.
 */
export function removeEmptyChains(statements: Statements): number {
  return statements
    .prepare(
      `DELETE FROM chain WHERE id IN (SELECT id FROM chain c
         WHERE NOT EXISTS (SELECT 1 FROM segment WHERE chain = c.id)
           AND NOT EXISTS (SELECT 1 FROM chain_part WHERE chain = c.id)
           AND NOT EXISTS (SELECT 1 FROM increment WHERE sensor = c.sensor AND chain = c.id)
         LIMIT ${CHAINS_AT_OPENING})`,
    )
    .run().changes;
}

function giveBackPages({ db }: Statements): number {
  const free = db.pragma('freelist_count', { simple: true }) as number;
  const pages = Math.min(SLICE_PAGES, free - SPARE_PAGES);
  if (pages <= 0) return 0;
  db.pragma(`incremental_vacuum(${pages})`);
  return free - (db.pragma('freelist_count', { simple: true }) as number);
}
