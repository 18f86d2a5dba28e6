/** Copies the database while it is written to, without holding up the writer. */
import Database from 'better-sqlite3';
import { existsSync, renameSync, rmSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import { StoreError, toStoreError } from './store-error.js';
import { syncFile } from './sync-file.js';

/** Pages copied at a time, between two commits: less than a millisecond. */
const SLICE_PAGES = 200;

/**
 * Writes a consistent copy to `path`, which must not exist; its size in bytes. Pages are copied on the writer's own
 * connection in slices between its commits, and a page that a commit changes is copied again: from another connection the
 * copy would begin anew with every commit. The copy bears its name only when it is whole.
 * `tell` hears the pages left and the pages in all. Throws StoreError: exists, disk full.
 */
export async function backupDatabase(
  db: Database.Database,
  path: string,
  tell?: (left: number, total: number) => void,
): Promise<number> {
  if (existsSync(path))
    throw new StoreError('exists', `${path} is there already`, 'name a file that does not exist', false);
  const part = `${path}.part`;
  try {
    rmSync(part, { force: true });
    await db.backup(part, {
      progress: ({ remainingPages, totalPages }) => {
        tell?.(remainingPages, totalPages);
        return SLICE_PAGES;
      },
    });
    leaveWal(part);
    syncFile(part);
    renameSync(part, path);
    syncFile(dirname(path));
  } catch (error) {
    for (const tail of ['', '-wal', '-shm', '-journal']) rmSync(part + tail, { force: true });
    throw toStoreError(error);
  }
  return statSync(path).size;
}

/** One file that opens on a read-only medium too: in WAL mode it would want others beside it. */
function leaveWal(file: string): void {
  const copy = new Database(file);
  try {
    copy.pragma('journal_mode = DELETE');
  } finally {
    copy.close();
  }
}
