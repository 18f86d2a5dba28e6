/** What tells one outbox from the one before it, across restores: positions of two of them have nothing in common. */
import type Database from 'better-sqlite3';

/** Name of the record in `meta`: since when the outbox is kept, ms; '' or none: it is not. */
export const OUTBOX_EPOCH = 'outbox-epoch';

/** The store begins another outbox when it is opened for forwarding again. One that never had any stays as it is. */
export function endOutbox(db: Database.Database): void {
  db.prepare(`UPDATE meta SET value = '' WHERE key = ?`).run(OUTBOX_EPOCH);
}
