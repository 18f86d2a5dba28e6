/** What went wrong and what to do about it, from whatever was thrown. */
import type { CallFault, HaltCause } from './protocol.js';

const HINTS: Readonly<Record<string, string>> = {
  SQLITE_FULL: 'Free space on the disk that holds the data directory; the gateway goes on by itself.',
  SQLITE_READONLY: 'Make the data directory writable for the user that the gateway runs as.',
  SQLITE_IOERR: 'Look at the health of the disk that holds the data directory.',
  SQLITE_BUSY: 'Another program holds the database: only one gateway may run on a data directory.',
  ENOSPC: 'Free space on the disk that holds the data directory; the gateway goes on by itself.',
};

/** A call came while nothing can be stored. What it asked for was not done, and can be asked for again. */
export class NotReady extends Error {
  readonly code = 'NOT_READY';
  readonly hint = 'It tries again by itself: /ready says why it cannot and when it can. Ask again then.';
}

/** A person trusts a clock that nothing speaks against. */
export class ClockNotInDoubt extends Error {
  readonly code = 'CLOCK_NOT_IN_DOUBT';
  readonly hint = 'Nothing was changed. GET /api/v1/gateway says how the clock stands.';
  constructor() {
    super('The gateway does not wait for a word about its clock.');
  }
}

export function faultOf(error: unknown): CallFault {
  const message = error instanceof Error ? error.message : String(error);
  const code = readText(error, 'code');
  const known = Object.entries(HINTS).find(([prefix]) => code.startsWith(prefix))?.[1];
  return { message, code, hint: readText(error, 'hint') || (known ?? '') };
}

const FULL = ['disk-full', 'SQLITE_FULL', 'ENOSPC'];

export function causeOf(error: unknown): HaltCause {
  return FULL.includes(readText(error, 'code')) ? 'storage-full' : 'storage-failed';
}

/** One sentence or two, for readiness and the log. */
export function explainFailure(error: unknown): string {
  const { message, code, hint } = faultOf(error);
  const what = code === '' || message.includes(code) ? message : `${message} (${code})`;
  return `nothing can be stored: ${what}${hint === '' || message.includes(hint) ? '' : `. ${hint}`}`;
}

function readText(error: unknown, name: 'code' | 'hint'): string {
  if (typeof error !== 'object' || error === null || !(name in error)) return '';
  const value = (error as Record<string, unknown>)[name];
  return typeof value === 'string' ? value : '';
}
