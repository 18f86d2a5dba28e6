/** Makes a file, or the names in a folder, survive a power cut. */
import { closeSync, fsyncSync, openSync } from 'node:fs';

/** Throws what the file system throws. Folders cannot be synced everywhere; where they cannot, nothing is done. */
export function syncFile(path: string): void {
  const handle = openSync(path, 'r');
  try {
    fsyncSync(handle);
  } catch (error) {
    if (!(error instanceof Error && 'code' in error && (error.code === 'EISDIR' || error.code === 'EINVAL')))
      throw error;
  } finally {
    closeSync(handle);
  }
}
