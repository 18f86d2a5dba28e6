/**
 * Opens the database file: one writer, WAL, every commit synced. A corrupt file is set aside and reported, never repaired
 * in place; a newer one is refused.
 */
import Database from 'better-sqlite3';
import { existsSync, mkdirSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { migrate } from './migration.js';
import { StoreError } from './store-error.js';

export const FILE_NAME = 'tallypost.db';
const PAGE_BYTES = 4096;
const JOURNAL_BYTES_MAX = 16 * 1024 * 1024;

export interface Opened {
  db: Database.Database;
  /** where a corrupt file was put; null: there was none */
  setAside: string | null;
  close(): void;
}

/** Holds an exclusive lock in a file of its own for as long as the process lives; the system frees it when it dies. */
function lockDirectory(dir: string): Database.Database {
  const lock = new Database(join(dir, 'writer.lock'));
  try {
    lock.pragma('busy_timeout = 0');
    lock.exec('BEGIN EXCLUSIVE');
    return lock;
  } catch {
    lock.close();
    throw new StoreError(
      'in-use',
      `another gateway writes to ${dir}`,
      'stop it first, or give this one another --data folder',
      false,
    );
  }
}

function setAside(file: string): string {
  const stamp = new Date().toISOString().replace(/[:.]/g, '-');
  const target = `${file}.${stamp}.corrupt`;
  for (const tail of ['', '-wal', '-shm'])
    if (existsSync(file + tail)) renameSync(file + tail, target + tail);
  return target;
}

function isCorrupt(error: unknown): boolean {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  return code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB';
}

function connect(file: string, dir: string): Database.Database {
  const fresh = !existsSync(file);
  const db = new Database(file);
  try {
    if (fresh) {
      db.pragma(`page_size = ${PAGE_BYTES}`);
      db.pragma('auto_vacuum = INCREMENTAL');
    }
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    if (
      db.pragma('synchronous', { simple: true }) !== 2 ||
      db.pragma('journal_mode', { simple: true }) !== 'wal'
    ) {
      throw new StoreError(
        'not-durable',
        `${file} would not sync every commit`,
        'use a local file system that supports WAL',
        false,
      );
    }
    db.pragma(`journal_size_limit = ${JOURNAL_BYTES_MAX}`);
    db.pragma('busy_timeout = 5000');
    db.pragma('cache_size = -65536');
    migrate(db, dir);
    const checked = db.pragma('quick_check(1)', { simple: true });
    if (checked !== 'ok') throw Object.assign(new Error(String(checked)), { code: 'SQLITE_CORRUPT' });
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}

/** Opens `dir/tallypost.db`, making both when they are missing. Throws StoreError: in use, newer schema, not durable. */
export function openDatabase(dir: string): Opened {
  mkdirSync(dir, { recursive: true });
  const lock = lockDirectory(dir);
  const file = join(dir, FILE_NAME);
  try {
    let aside: string | null = null;
    let db: Database.Database;
    try {
      db = connect(file, dir);
    } catch (error) {
      if (!isCorrupt(error)) throw error;
      aside = setAside(file);
      db = connect(file, dir);
    }
    const close = (): void => {
      db.close();
      lock.close();
    };
    return { db, setAside: aside, close };
  } catch (error) {
    lock.close();
    throw error;
  }
}
