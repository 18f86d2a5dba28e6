/** What can go wrong with the disk, in one shape: a code for programs, a message and a hint for people. */
export type StoreErrorCode =
  | 'in-use'
  | 'newer-schema'
  | 'not-durable'
  | 'disk-full'
  | 'corrupt'
  | 'read-only'
  | 'failed'
  | 'exists'
  | 'missing';

export class StoreError extends Error {
  constructor(
    readonly code: StoreErrorCode,
    message: string,
    readonly hint: string,
    /** the same call may succeed later, when the cause is gone */
    readonly retryable: boolean,
  ) {
    super(`${message}: ${hint}`);
    this.name = 'StoreError';
  }
}

/** A failure of SQLite as a StoreError; one of ours passes through. */
export function toStoreError(error: unknown): StoreError {
  if (error instanceof StoreError) return error;
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const message = error instanceof Error ? error.message : String(error);
  if (code === 'SQLITE_FULL')
    return new StoreError(
      'disk-full',
      message,
      'free disk space; nothing was acknowledged that is not stored',
      true,
    );
  if (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB') {
    return new StoreError(
      'corrupt',
      message,
      'restart: the file is set aside and a new one begun; restore a backup if you have one',
      false,
    );
  }
  if (code === 'SQLITE_READONLY')
    return new StoreError('read-only', message, 'make the data folder writable', true);
  return new StoreError(
    'failed',
    message,
    'see the log; the batch was rolled back and its senders will send again',
    true,
  );
}
