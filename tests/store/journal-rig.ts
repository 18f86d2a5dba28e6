/** Entries of the journal for tests, and a way to lay hands on a journal as somebody with the file would. */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import { entryOf } from '../../src/core/journal.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { verifyJournal, type JournalProof } from '../../src/store/verify-journal.js';
import { commit, EVIDENCE, outputs, START } from './sample-rows.js';

/** The i-th entry, a second after the one before; every third has evidence. */
export function entry(i: number, some: Partial<JournalEntry> = {}): JournalEntry {
  const at = START + i * 1000;
  return entryOf(
    {
      ...{ at, detectedAt: at + 5, kind: 'alarm', subject: `pump-${i % 4}.de-rate-high`, text: `said ${i}` },
      ...{ from: 'normal', to: 'unacknowledged', who: i % 2 === 0 ? '' : 'J. Field', what: 'raised' },
      ...{ annunciated: i % 2 === 0, evidence: i % 3 === 0 ? { ...EVIDENCE, pulses: i } : null },
      ...some,
    },
    'a1b2c3',
  );
}

/** Writes entries `from` to `to` − 1 as the engine does, `each` of them in one transaction. */
export function writeEntries(dir: string, from: number, to: number, each = 3): void {
  const store = openStore(dir);
  for (let i = from; i < to; i += each) {
    const journal = Array.from({ length: Math.min(each, to - i) }, (_, k) => entry(i + k));
    commit(store, outputs({ journal }));
  }
  store.close();
}

export function verify(dir: string, expected: string | null = null): JournalProof {
  const reader = openReader(dir);
  try {
    return verifyJournal(reader, expected);
  } finally {
    reader.close();
  }
}

/** Runs statements on the file, past everything that is ours. */
export function tamper(dir: string, ...statements: string[]): void {
  const db = new Database(join(dir, 'tallypost.db'));
  for (const sql of statements) db.exec(sql);
  db.close();
}

/** Every entry as its row stands in the file, but for its number. */
export function rowsThere(dir: string): string[] {
  const db = new Database(join(dir, 'tallypost.db'), { readonly: true });
  const rows = db.prepare('SELECT * FROM journal ORDER BY id').all() as Record<string, unknown>[];
  db.close();
  return rows.map((row) => JSON.stringify(row));
}
