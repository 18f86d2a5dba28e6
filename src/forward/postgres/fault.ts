/**
 * What an error of the database or of the way to it means for the batch: later, or refused. Refused is only what lies in the
 * record; what an administrator can mend is later, with a sentence that says how, so that nothing is set aside for a missing
 * table or a privilege.
 * Source: PostgreSQL manual, appendix A, "PostgreSQL Error Codes".
 */
import type { Sent } from '../sink.js';

/** As the driver tells of it: of the server with a SQLSTATE, of the network with a name such as ECONNREFUSED. */
interface Told {
  readonly code: string;
  readonly message: string;
  readonly detail: string;
  readonly where: string;
}

/** Classes of the records' own fault: 22 data, 23 constraint, 44 check option of a view, P0 raised by a trigger of the site. */
const OF_RECORDS = ['22', '23', '44', 'P0'];
/** Too long for a row, a value or an index entry. */
const TOO_LARGE = '54000';

/** `COPY stage_journal, line 3, column text: "…"`: where the server stood when it met what it cannot take. */
const COPY_LINE = /^COPY stage_([a-z]+), line (\d+)/m;
const PLACE_MOST = 200;

/** What to do, by SQLSTATE or its class. */
const HINTS: Readonly<Record<string, string>> = {
  '28': 'check user and password of this sink, and pg_hba.conf of the server',
  '3D': 'create the database, or correct `database` of this sink',
  '25006': 'it is read only, perhaps a standby: give the address of the primary',
  '42501': 'grant the login of this sink what it lacks: docs/sink-postgres.md lists it',
  '42': 'run `tallypost sinks prepare` for this sink; it says what is missing',
  '0A': 'run `tallypost sinks prepare` for this sink; it says what is missing',
  '53100': 'free some space on its disk',
  '53300': 'raise max_connections of the server, or close what is not needed',
  '53': 'it is short of memory, disk or connections',
  '55P03': 'something else holds a lock on these tables for long',
  '57014': 'it took longer than deadlineMs of this sink allows: is it overloaded, or blocked by a lock?',
};

/** `lineOf`: which record of the batch stands on a line of a stream's copy. */
export function judgeFault(
  error: unknown,
  lineOf: (table: string, line: number) => number | null,
): Exclude<Sent, { outcome: 'taken' }> {
  const told = readFault(error);
  const reason = describeFault(error);
  if (isOfRecords(told.code)) return { outcome: 'refused', reason, index: findRecord(told.where, lineOf) };
  return { outcome: 'later', reason, retryAfterMs: null };
}

/** One sentence: what was said, where, and what to do. */
export function describeFault(error: unknown): string {
  const { code, message, detail, where } = readFault(error);
  const hint = HINTS[code] ?? (isSqlState(code) ? HINTS[code.slice(0, 2)] : undefined);
  const line = where.split('\n').find((part) => COPY_LINE.test(part)) ?? where.split('\n')[0]!;
  const place = line === '' ? '' : ` (${line.slice(0, PLACE_MOST)})`;
  const more = detail === '' || isOfRecords(code) ? '' : `. ${detail}`;
  return `${code === '' ? '' : `${code}: `}${message}${place}${more}${hint === undefined ? '' : `; ${hint}`}`;
}

function isSqlState(code: string): boolean {
  return /^[0-9A-Z]{5}$/.test(code);
}

function isOfRecords(code: string): boolean {
  return isSqlState(code) && (OF_RECORDS.includes(code.slice(0, 2)) || code === TOO_LARGE);
}

function findRecord(where: string, lineOf: (table: string, line: number) => number | null): number | null {
  const found = COPY_LINE.exec(where);
  return found === null ? null : lineOf(found[1]!, Number(found[2]));
}

function readFault(error: unknown): Told {
  const fields = (typeof error === 'object' && error !== null ? error : {}) as Partial<
    Record<string, unknown>
  >;
  const field = (name: string): string => (typeof fields[name] === 'string' ? fields[name] : '');
  const message = error instanceof Error ? error.message : field('message');
  return {
    code: field('code'),
    message: message === '' ? String(error) : message,
    detail: field('detail'),
    where: field('where'),
  };
}
