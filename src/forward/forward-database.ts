/**
 * The forwarder's own file: cursors, ledgers, quarantine, losses, backfills, and what sinks keep. A file of its own, so that
 * nothing that goes wrong here can hold up a commit of the engine.
 */
import Database from 'better-sqlite3';
import { existsSync, renameSync } from 'node:fs';
import { join } from 'node:path';

export const FORWARD_FILE = 'forward.db';
/** Marks a file as one of ours (`application_id` in its header): "tpfw". */
const APPLICATION_ID = 0x74706677;
const VERSION = 1;
const SYNCHRONOUS_FULL = 2;

const TABLES = [
  `CREATE TABLE sink (
    name TEXT PRIMARY KEY, epoch INTEGER NOT NULL, since INTEGER NOT NULL, memory TEXT) STRICT, WITHOUT ROWID`,
  // entries up to live are settled but for those in the gaps, JSON [[after, to], …], oldest first
  `CREATE TABLE cursor (
    sink TEXT NOT NULL, code INTEGER NOT NULL, live INTEGER NOT NULL, gaps TEXT NOT NULL, PRIMARY KEY (sink, code)) STRICT, WITHOUT ROWID`,
  // base: produced before the sink was there
  `CREATE TABLE ledger (
    sink TEXT NOT NULL, code INTEGER NOT NULL, subject INTEGER NOT NULL, base INTEGER NOT NULL DEFAULT 0,
    delivered INTEGER NOT NULL DEFAULT 0, superseded INTEGER NOT NULL DEFAULT 0, quarantined INTEGER NOT NULL DEFAULT 0,
    expired INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (sink, code, subject)) STRICT, WITHOUT ROWID`,
  // subject null: it came by a backfill, and is in no ledger
  `CREATE TABLE quarantine (
    id INTEGER PRIMARY KEY, sink TEXT NOT NULL, code INTEGER NOT NULL, subject INTEGER, key TEXT NOT NULL,
    revision INTEGER NOT NULL, at INTEGER NOT NULL, reason TEXT NOT NULL, record TEXT NOT NULL) STRICT`,
  `CREATE INDEX quarantine_key ON quarantine (sink, code, key)`,
  `CREATE TABLE loss (
    id INTEGER PRIMARY KEY, sink TEXT NOT NULL, code INTEGER NOT NULL, subject INTEGER NOT NULL, count INTEGER NOT NULL,
    first_start INTEGER NOT NULL, last_start INTEGER NOT NULL, at INTEGER NOT NULL, reason TEXT NOT NULL) STRICT`,
  `CREATE INDEX loss_sink ON loss (sink, code, subject)`,
  `CREATE TABLE backfill (
    id INTEGER PRIMARY KEY, sink TEXT NOT NULL, wish TEXT NOT NULL, place TEXT NOT NULL, sent INTEGER NOT NULL DEFAULT 0,
    refused INTEGER NOT NULL DEFAULT 0, asked_at INTEGER NOT NULL, ended_at INTEGER) STRICT`,
];

export interface OpenedForward {
  readonly db: Database.Database;
  /** where a damaged file was put; null: there was none */
  readonly setAside: string | null;
}

/** Throws when the file cannot be written, or was written by a newer program. */
export function openForwardDatabase(dir: string): OpenedForward {
  const file = join(dir, FORWARD_FILE);
  try {
    return { db: connect(file), setAside: null };
  } catch (error) {
    if (!isDamaged(error)) throw error;
  }
  const setAside = `${file}.${new Date().toISOString().replace(/[:.]/g, '-')}.corrupt`;
  for (const tail of ['', '-wal', '-shm'])
    if (existsSync(file + tail)) renameSync(file + tail, setAside + tail);
  return { db: connect(file), setAside };
}

/** For a look at it while nobody or somebody else writes; null: there is none yet. */
export function readForwardDatabase(dir: string): Database.Database | null {
  const file = join(dir, FORWARD_FILE);
  if (!existsSync(file)) return null;
  const db = new Database(file, { readonly: true, timeout: 2_000 });
  if (db.pragma('user_version', { simple: true }) === VERSION) return db;
  db.close();
  return null;
}

function isDamaged(error: unknown): boolean {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  return code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB';
}

function connect(file: string): Database.Database {
  const db = new Database(file);
  try {
    db.pragma('journal_mode = WAL');
    // the switch to WAL lowers it: set afterwards, and read back
    db.pragma('synchronous = FULL');
    if (db.pragma('synchronous', { simple: true }) !== SYNCHRONOUS_FULL)
      throw new Error(`${file} would not sync every commit: use a local file system`);
    db.pragma('journal_size_limit = 4194304');
    const version = db.pragma('user_version', { simple: true }) as number;
    if (version > VERSION) throw new Error(`${file} was written by a newer program: use that one`);
    if (version === VERSION) {
      if (db.pragma('quick_check(1)', { simple: true }) !== 'ok')
        throw Object.assign(new Error('damaged'), { code: 'SQLITE_CORRUPT' });
      return db;
    }
    db.transaction(() => {
      for (const sql of TABLES) db.exec(sql);
      db.pragma(`application_id = ${APPLICATION_ID}`);
      db.pragma(`user_version = ${VERSION}`);
    })();
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}
