/**
 * The outbox is not the one that a sink was forwarded from: a backup was restored, or forwarding was off for a while. What was
 * noted by position or by number of a name means something else now, and goes; what stands by itself stays.
 */
import type Database from 'better-sqlite3';

/** Where a sink stands when it is opened. restored: it begins anew, since the outbox is another one; rewound: it is an older copy. */
export type Beginning = 'same' | 'new' | 'restored' | 'rewound';

const TABLES_OF_POSITIONS = ['cursor', 'ledger', 'loss'];
/** The place of a backfill that has not begun: see `Place` there. What was sent is sent again, safe by its key. */
const AT_THE_BEGINNING = JSON.stringify({ stream: 0, cursor: null });

/** Inside a transaction. */
export function forgetOutbox(db: Database.Database, sink: string): void {
  for (const table of TABLES_OF_POSITIONS) db.prepare(`DELETE FROM ${table} WHERE sink = ?`).run(sink);
  // copies can still be sent, but are in no ledger any more
  db.prepare('UPDATE quarantine SET subject = NULL WHERE sink = ?').run(sink);
  db.prepare('UPDATE backfill SET place = ? WHERE sink = ? AND ended_at IS NULL').run(AT_THE_BEGINNING, sink);
}

/** What people are told of it; null: there is nothing to tell. */
export function tellBeginning(beginning: Beginning, sink: string): string | null {
  if (beginning === 'same' || beginning === 'new') return null;
  const why =
    beginning === 'restored'
      ? 'the outbox is another one: a backup was restored, or forwarding was off for a while'
      : 'the store is older than what was forwarded from it: a copy was put back without "tallypost restore"';
  return (
    `${why}. The sink ${sink} begins anew with what comes from now on, and so do its ledgers. To see what it misses: ` +
    `"tallypost sinks prove ${sink}"; to send it again: "tallypost sinks backfill ${sink}"`
  );
}
