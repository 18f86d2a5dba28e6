/**
 * Opens the database for the one that writes: WAL, every commit synced. A corrupt file is set aside and reported, never
 * mended in place; one of a newer program is refused.
 */
import Database from 'better-sqlite3';
import { existsSync, mkdirSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { isSound } from './integrity.js';
import { migrate } from './migration.js';
import { APPLICATION_ID } from './schema.js';
import { readCode, StoreError, toStoreError } from './store-error.js';

export const FILE_NAME = 'tallypost.db';
const PAGE_BYTES = 4096;
const LOCK_NAME = 'writer.lock';
/** Pages in memory that help when everything is written at full speed. */
const CACHE_BYTES_MAX = 64 * 1024 * 1024;
const JOURNAL_BYTES_MAX = 16 * 1024 * 1024;
/** SQLite's own number for `synchronous = FULL`. */
const SYNCHRONOUS_FULL = 2;

export interface Opened {
  db: Database.Database;
  /** where a corrupt file was put; null: there was none */
  setAside: string | null;
  close(): void;
}

/**
 * Holds an exclusive lock on a small file of its own, by the operating system, which frees it when the process dies,
 * however it dies. Not on the database itself: that would shut out the readers. Throws StoreError `in-use`.
 */
function lockDirectory(dir: string): Database.Database {
  const lock = new Database(join(dir, LOCK_NAME));
  try {
    lock.pragma('busy_timeout = 0');
    lock.exec('BEGIN EXCLUSIVE');
    return lock;
  } catch (error) {
    lock.close();
    if (!readCode(error).startsWith('SQLITE_BUSY')) throw toStoreError(error);
    throw new StoreError(
      'in-use',
      `another gateway writes to ${dir}`,
      'stop it first, or give this one another --data folder',
      true,
    );
  }
}

/** Renames the database and its journal files; the new name of the database. */
function putAside(file: string): string {
  const stamp = new Date().toISOString().replace(/[:.]/g, '-');
  const taken = (n: number): string => `${file}.${stamp}${n === 0 ? '' : `-${n}`}.corrupt`;
  let n = 0;
  while (existsSync(taken(n))) n += 1;
  for (const tail of ['', '-wal', '-shm'])
    if (existsSync(file + tail)) renameSync(file + tail, taken(n) + tail);
  return taken(n);
}

function isCorrupt(error: unknown): boolean {
  const code = readCode(error);
  return code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB';
}

/** Settings of a connection that writes. Throws StoreError `not-durable` when the file system does not play along. */
function settle(db: Database.Database, file: string, cacheBytesMax: number): void {
  db.pragma('journal_mode = WAL');
  // the switch to WAL lowers it: set afterwards, and read back
  db.pragma('synchronous = FULL');
  const synchronous = db.pragma('synchronous', { simple: true });
  const mode = db.pragma('journal_mode', { simple: true });
  if (synchronous !== SYNCHRONOUS_FULL || mode !== 'wal') {
    throw new StoreError(
      'not-durable',
      `${file} would not sync every commit (journal_mode ${String(mode)}, synchronous ${String(synchronous)})`,
      'use a local file system that supports shared memory',
      false,
    );
  }
  db.pragma(`journal_size_limit = ${JOURNAL_BYTES_MAX}`);
  db.pragma('wal_autocheckpoint = 1000');
  db.pragma('busy_timeout = 2000');
  // negative: KiB
  db.pragma(`cache_size = -${Math.ceil(cacheBytesMax / 1024)}`);
  db.pragma('temp_store = MEMORY');
}

function connect(file: string, dir: string, cacheBytesMax: number): Database.Database {
  const db = new Database(file);
  try {
    const isNew = db.pragma('page_count', { simple: true }) === 0;
    if (isNew) {
      db.pragma(`page_size = ${PAGE_BYTES}`);
      db.pragma('auto_vacuum = INCREMENTAL');
      db.pragma(`application_id = ${APPLICATION_ID}`);
    } else if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) {
      throw new StoreError(
        'not-ours',
        `${file} is the database of another program`,
        'name another --data folder, or take the file away',
        false,
      );
    }
    settle(db, file, cacheBytesMax);
    if (!isNew && !isSound(db)) throw Object.assign(new Error('damaged'), { code: 'SQLITE_CORRUPT' });
    migrate(db, dir);
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}

/**
 * Opens `dir/tallypost.db`, making both when they are missing. Throws StoreError: in use, newer schema, another program's
 * file, not durable, not writable.
 */
export function openDatabase(dir: string, cacheBytesMax: number = CACHE_BYTES_MAX): Opened {
  mkdirSync(dir, { recursive: true });
  const lock = lockDirectory(dir);
  const file = join(dir, FILE_NAME);
  try {
    let setAside: string | null = null;
    let db: Database.Database;
    try {
      db = connect(file, dir, cacheBytesMax);
    } catch (error) {
      if (!isCorrupt(error)) throw error;
      setAside = putAside(file);
      db = connect(file, dir, cacheBytesMax);
    }
    const close = (): void => {
      db.close();
      lock.close();
    };
    return { db, setAside, close };
  } catch (error) {
    lock.close();
    throw toStoreError(error);
  }
}
