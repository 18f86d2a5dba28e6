/** What can be wrong with the chain of the journal: what it is called, what it says, and what to do about it. */
import { digestEntry } from './journal-chain.js';
import { readChained, type ChainedEntry } from './read-journal.js';
import type { ReadStore } from './reader.js';

export interface JournalFault {
  readonly kind: 'altered' | 'removed' | 'inserted' | 'reordered' | 'rewritten';
  /** number of the first entry that is not as it was written; null: it cannot be told which */
  readonly id: number | null;
  readonly says: string;
  readonly advice: string;
}

type FaultName =
  | Exclude<JournalFault['kind'], 'rewritten'>
  | 'record-missing'
  /** the last entry is not the one that the record of the chain names */
  | 'end-differs'
  /** what retention said that it removed is not what the record of the chain says */
  | 'anchor-differs'
  /** no entry has the digest that was noted elsewhere */
  | 'digest-not-met';

const KINDS: Readonly<Record<FaultName, JournalFault['kind']>> = {
  altered: 'altered',
  removed: 'removed',
  inserted: 'inserted',
  reordered: 'reordered',
  'record-missing': 'removed',
  'end-differs': 'altered',
  'anchor-differs': 'removed',
  'digest-not-met': 'rewritten',
};

const KEEP =
  'Keep what is there before anything else is done: "tallypost backup" copies it as it is. Then export the journal and ' +
  'compare it, from this entry on, with the newest backup or export made before; what stands before this entry is as ' +
  'it was written. If nobody wrote to the file, let the disk be looked at.';
const WITNESS =
  'Ask first whether a backup was restored that is older than the digest, or whether retention has removed that entry ' +
  'since. If neither is so, keep what is there ("tallypost backup") and compare it with the newest backup or export.';

/** `to`: last of several entries, or where the entry went. */
export function nameFault(name: FaultName, id: number | null, to: number | null = null): JournalFault {
  const kind = KINDS[name];
  const advice = kind === 'rewritten' ? WITNESS : KEEP;
  return { kind, id, says: tell(name, String(id), to === id || to === null ? '' : String(to)), advice };
}

/** `to`: empty where it is one entry alone. */
function tell(name: FaultName, id: string, to: string): string {
  const entries = to === '' ? `Entry ${id} is` : `Entries ${id} to ${to} are`;
  switch (name) {
    case 'altered':
      return `Entry ${id} is not what was written: it, or its digest, was altered.`;
    case 'removed':
      return `${entries} missing.`;
    case 'inserted':
      return `${entries} not from the gateway: ${to === '' ? 'it was' : 'they were'} inserted.`;
    case 'reordered':
      return `The order was changed: what was written as entry ${id} now stands as entry ${to}.`;
    case 'record-missing':
      return (
        `The record that says where the chain begins and ends is missing; the first chained entry there is now is ${id}. ` +
        'Entries may have been removed at either end.'
      );
    case 'end-differs':
      return `Entry ${id} is not what was written last: it was altered together with its digest.`;
    case 'anchor-differs':
      return `Entries before ${id} are missing, and it was not retention that removed them all.`;
    case 'digest-not-met':
      return (
        'No entry has the digest that was expected: since it was noted, the journal was cut off at the end, written anew, ' +
        'or replaced by an older one.'
      );
  }
}

/**
 * What was done where an entry does not follow from the one before, whose digest is `before`. `head`: number of the last
 * entry by the record of the chain. Looks through all later entries once.
 */
export function explainMismatch(reader: ReadStore, id: number, before: string, head: number): JournalFault {
  const end = (reader.value('SELECT max(id) FROM journal') as number | null) ?? id;
  const [own, next] = readChained(reader, id - 1, end, 2);
  const more = end - head;
  if (more > 0) {
    const [moved] = readChained(reader, id + more - 1, end, 1);
    if (moved !== undefined && digestAs(id, before, moved) === moved.digest)
      return nameFault('inserted', id, id + more - 1);
  }
  if (next !== undefined && digestEntry(before, next.cells) === next.digest)
    return nameFault('inserted', id, next.id - 1);
  if (more < 0 && own !== undefined && next !== undefined) {
    if (digestAs(next.id - more, own.digest, next) === next.digest)
      return nameFault('removed', id, id - more - 1);
  }
  const place = findMoved(reader, id, before, own?.digest ?? '', end);
  return place === null ? nameFault('altered', id) : nameFault('reordered', id, place);
}

/** The digest that an entry would have as number `id`. */
function digestAs(id: number, before: string, { cells }: ChainedEntry): string {
  return digestEntry(before, [id, ...cells.slice(1)]);
}

const PAGE_ROWS = 1000;

/** The number under which the entry that belongs to `id` now stands, with its digest or without; null: nowhere. */
function findMoved(
  reader: ReadStore,
  id: number,
  before: string,
  digestThere: string,
  end: number,
): number | null {
  for (let after = id; ;) {
    const rows = readChained(reader, after, end, PAGE_ROWS);
    for (const row of rows) {
      const digest = digestAs(id, before, row);
      if (digest === row.digest || digest === digestThere) return row.id;
    }
    if (rows.length < PAGE_ROWS) return null;
    after = rows[rows.length - 1]!.id;
  }
}
