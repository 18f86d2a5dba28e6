/** Whether a database file is sound, within a bounded time. */
import type Database from 'better-sqlite3';

/** Files up to here are checked whole: a few seconds on a slow disk. */
const WHOLE_BYTES_MAX = 256 * 1024 * 1024;
/** Tables that grow without end; of a large file, only both ends of each sensor's rows are read. */
const LARGE_TABLES: Readonly<Record<string, string>> = {
  increment: 'to_ms',
  rollup_1m: 'start',
  rollup_10m: 'start',
  rollup_1h: 'start',
};

/**
 * True when no damage is found. A large file is checked table by table but for the largest, so that the gateway is not
 * kept from starting; what lies hidden there is found when it is read. May throw SQLITE_CORRUPT instead.
 */
export function isSound(db: Database.Database): boolean {
  const pages = db.pragma('page_count', { simple: true }) as number;
  const bytes = pages * (db.pragma('page_size', { simple: true }) as number);
  if (bytes <= WHOLE_BYTES_MAX) return db.pragma('quick_check(1)', { simple: true }) === 'ok';
  const tables = db
    .prepare(`SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`)
    .pluck()
    .all() as string[];
  for (const table of tables) {
    const when = LARGE_TABLES[table];
    if (when !== undefined) readEnds(db, table, when);
    else if (db.pragma(`quick_check('${table}')`, { simple: true }) !== 'ok') return false;
  }
  return true;
}

function readEnds(db: Database.Database, table: string, when: string): void {
  const order = (direction: string) =>
    db.prepare(`SELECT * FROM ${table} WHERE sensor = ? ORDER BY ${when} ${direction} LIMIT 100`).raw();
  const [first, last] = [order('ASC'), order('DESC')];
  for (const id of db.prepare('SELECT id FROM name').pluck().all()) {
    first.all(id);
    last.all(id);
  }
}
