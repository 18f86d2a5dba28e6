/**
 * Puts a backup in the place of a store: checked first, copied beside and synced, then renamed. What was there is set aside,
 * never overwritten; a crash at any moment leaves either the old store or the new one.
 */
import Database from 'better-sqlite3';
import {
  closeSync,
  copyFileSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  openSync,
  renameSync,
  rmSync,
} from 'node:fs';
import { join } from 'node:path';
import { FILE_NAME } from '../store/open.js';
import { endOutbox } from '../store/outbox-epoch.js';
import { SCHEMA_VERSION } from '../store/schema.js';
import { CommandFailure } from './command.js';

export interface Restoration {
  /** where the store that was there went; null: there was none */
  readonly setAside: string | null;
}

/** Throws `CommandFailure`; nothing has changed then. */
export function restoreStore(backup: string, dataDir: string): Restoration {
  if (!existsSync(backup))
    throw new CommandFailure(`There is no file ${backup}.`, 'Name a file that "backup" wrote.');
  mkdirSync(dataDir, { recursive: true });
  const fresh = join(dataDir, `${FILE_NAME}.restoring`);
  const lock = lockFolder(dataDir);
  try {
    rmSync(fresh, { force: true });
    copyFileSync(backup, fresh);
    checkBackup(fresh, backup);
    endOutboxOf(fresh);
    syncPath(fresh);
    const setAside = moveAside(join(dataDir, FILE_NAME));
    renameSync(fresh, join(dataDir, FILE_NAME));
    syncPath(dataDir);
    return { setAside };
  } finally {
    rmSync(fresh, { force: true });
    lock.close();
  }
}

/** The lock that the writer of a folder holds for as long as it lives. */
function lockFolder(dataDir: string): Database.Database {
  const lock = new Database(join(dataDir, 'writer.lock'));
  try {
    lock.pragma('busy_timeout = 0');
    lock.exec('BEGIN EXCLUSIVE');
    return lock;
  } catch {
    lock.close();
    throw new CommandFailure(
      `A gateway writes to ${dataDir}.`,
      'Stop it first, or restore into another folder.',
    );
  }
}

/** `copy`: what is checked; `backup`: how it is called in messages. */
function checkBackup(copy: string, backup: string): void {
  const refuse = (why: string): never => {
    throw new CommandFailure(
      `${backup} is no usable backup: ${why}.`,
      'Take an older one. Nothing has been changed.',
    );
  };
  let database: Database.Database;
  try {
    database = new Database(copy, { readonly: true });
  } catch (error) {
    return refuse(error instanceof Error ? error.message : String(error));
  }
  try {
    const verdict = database.pragma('integrity_check(1)', { simple: true });
    if (verdict !== 'ok') refuse(String(verdict));
    const version = Number(database.pragma('user_version', { simple: true }));
    if (version === 0) refuse('it holds no store');
    if (version > SCHEMA_VERSION)
      refuse(`its schema is ${version}, this program reads up to ${SCHEMA_VERSION}`);
  } catch (error) {
    if (error instanceof CommandFailure) throw error;
    refuse(error instanceof Error ? error.message : String(error));
  } finally {
    database.close();
  }
}

/** What the backup had in its outbox may have been sent since: the next gateway begins another, which sinks can tell from it. */
function endOutboxOf(copy: string): void {
  const database = new Database(copy);
  try {
    endOutbox(database);
  } finally {
    database.close();
  }
}

function moveAside(file: string): string | null {
  if (!existsSync(file)) return null;
  const target = `${file}.${new Date().toISOString().replace(/[:.]/g, '-')}.replaced`;
  for (const tail of ['-wal', '-shm', ''])
    if (existsSync(file + tail)) renameSync(file + tail, target + tail);
  return target;
}

function syncPath(path: string): void {
  const handle = openSync(path, 'r');
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}
