/** What can go wrong with the disk, in one shape: a code for programs, a message and a hint for people. */
export type StoreErrorCode =
  | 'in-use'
  | 'newer-schema'
  | 'older-schema'
  | 'not-durable'
  | 'disk-full'
  | 'disk-failed'
  | 'corrupt'
  | 'read-only'
  | 'busy'
  | 'failed'
  | 'exists'
  | 'missing'
  | 'not-ours';

export class StoreError extends Error {
  constructor(
    readonly code: StoreErrorCode,
    message: string,
    readonly hint: string,
    /** the same call may succeed later, when the cause is gone */
    readonly retryable: boolean,
    options?: ErrorOptions,
  ) {
    super(`${message}: ${hint}`, options);
    this.name = 'StoreError';
  }
}

interface Kind {
  /** the error's code begins with one of these */
  readonly begins: readonly string[];
  readonly code: StoreErrorCode;
  readonly hint: string;
  readonly retryable: boolean;
}

const KINDS: readonly Kind[] = [
  {
    begins: ['SQLITE_FULL', 'ENOSPC', 'EDQUOT'],
    code: 'disk-full',
    hint: 'free space on the disk of the data folder; what is not stored was not acknowledged',
    retryable: true,
  },
  {
    begins: ['SQLITE_CORRUPT', 'SQLITE_NOTADB'],
    code: 'corrupt',
    hint: 'restart the gateway: it sets the file aside and begins a new one; restore a backup if you have one',
    retryable: false,
  },
  {
    begins: ['SQLITE_READONLY', 'SQLITE_CANTOPEN', 'SQLITE_PERM', 'EACCES', 'EPERM', 'EROFS'],
    code: 'read-only',
    hint: 'let the user that the gateway runs as write to the data folder',
    retryable: true,
  },
  {
    begins: ['SQLITE_BUSY', 'SQLITE_LOCKED'],
    code: 'busy',
    hint: 'another program holds the database; let only one gateway write to the data folder',
    retryable: true,
  },
  {
    begins: ['SQLITE_IOERR', 'SQLITE_PROTOCOL', 'EIO'],
    code: 'disk-failed',
    hint: 'look at the health of the disk that holds the data folder',
    retryable: true,
  },
  {
    begins: ['SQLITE_CONSTRAINT', 'SQLITE_MISMATCH'],
    code: 'failed',
    hint: 'the batch was rolled back; this is a fault of the program, please report it',
    retryable: false,
  },
  {
    begins: ['SQLITE_'],
    code: 'failed',
    hint: 'the batch was rolled back and its senders will send again; see the log',
    retryable: true,
  },
];

/** A failure of SQLite or of the file system as a StoreError; anything else is a mistake of ours and stays as it is. */
export function toStoreError(error: unknown): unknown {
  if (error instanceof StoreError || !(error instanceof Error)) return error;
  const code = readCode(error);
  const kind = KINDS.find(({ begins }) => begins.some((text) => code.startsWith(text)));
  if (kind === undefined) return error;
  return new StoreError(kind.code, `${error.message} (${code})`, kind.hint, kind.retryable, { cause: error });
}

export function readCode(error: unknown): string {
  return error instanceof Error && 'code' in error ? String(error.code) : '';
}

/** Runs the work; what it throws comes out as `toStoreError` says. */
export function attempt<T>(work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw toStoreError(error);
  }
}
