/**
 * Proves from the store that no entry of the journal was altered, removed, inserted or moved since it was written; or
 * names the first that was. Reads page by page, and a gateway may write and remove meanwhile.
 * What it cannot see: entries cut off at the end, or a chain built anew, by somebody who also changed the record of the
 * chain. For that a digest noted elsewhere is needed, `expected`.
 */
import {
  CHAIN_KEY,
  CHAINED_COLUMNS,
  describeAnchor,
  digestEntry,
  readChainRecord,
  RETENTION_SUBJECT,
  type Anchor,
  type ChainRecord,
} from './journal-chain.js';
import { explainMismatch, nameFault, type JournalFault } from './journal-fault.js';
import { readChained, type ChainedEntry } from './read-journal.js';
import type { ReadStore } from './reader.js';

const PAGE_ROWS = 1000;
/** Retention may take what is being read; then it is read again. */
const ATTEMPTS_MOST = 5;

export interface JournalProof {
  /** null: nothing was found */
  readonly fault: JournalFault | null;
  /** chained entries that were read, up to the fault */
  readonly entries: number;
  /** entries from before they were chained: nothing can be said about them */
  readonly unchained: number;
  /** what retention took; null: nothing yet */
  readonly removed: Anchor | null;
  /** the last entry, by the record of the chain; null: there is none */
  readonly head: { readonly id: number; readonly digest: string } | null;
  /** number of the entry with the digest that was expected; null: none was, or it was not met */
  readonly expectedId: number | null;
}

/** What the journal says of itself, read in one statement. */
interface Frame {
  readonly record: ChainRecord | null;
  /** null: the table is empty */
  readonly first: number | null;
  readonly last: number | null;
}

/** `expected`: a digest that was noted earlier, in hexadecimal; null: none was. */
export function verifyJournal(reader: ReadStore, expected: string | null): JournalProof {
  for (let attempt = 1; ; attempt++) {
    const frame = readFrame(reader);
    const proof = new Walk(reader, frame, expected?.toLowerCase() ?? null).prove();
    if (proof.fault === null || attempt === ATTEMPTS_MOST) return proof;
    if (readFrame(reader).record?.anchor?.id === frame.record?.anchor?.id) return proof;
  }
}

function readFrame(reader: ReadStore): Frame {
  const [[text, first, last] = []] = reader.all(
    'SELECT (SELECT value FROM meta WHERE key = ?), (SELECT min(id) FROM journal), (SELECT max(id) FROM journal)',
    CHAIN_KEY,
  );
  return {
    record: readChainRecord(text ?? null),
    first: (first ?? null) as number | null,
    last: (last ?? null) as number | null,
  };
}

class Walk {
  readonly #reader: ReadStore;
  readonly #frame: Frame;
  readonly #expected: string | null;
  #before = '';
  #nextId = 0;
  #entries = 0;
  #unchained = 0;
  #expectedId: number | null = null;
  /** what retention said last */
  #said: string | null = null;

  constructor(reader: ReadStore, frame: Frame, expected: string | null) {
    this.#reader = reader;
    this.#frame = frame;
    this.#expected = expected;
  }

  prove(): JournalProof {
    const { record } = this.#frame;
    const fault = record === null ? this.#judgeWithoutRecord() : this.#judge(record);
    return {
      fault,
      entries: this.#entries,
      unchained: this.#unchained,
      removed: record?.anchor ?? null,
      head: record === null || record.head.digest === '' ? null : record.head,
      expectedId: this.#expectedId,
    };
  }

  /** A journal that nothing was chained in yet has no record, and no chained entry either. */
  #judgeWithoutRecord(): JournalFault | null {
    const chained = this.#reader.value('SELECT min(id) FROM journal WHERE digest IS NOT NULL');
    if (chained !== null) return nameFault('record-missing', chained as number);
    this.#unchained = this.#reader.value('SELECT count(*) FROM journal') as number;
    return this.#expected === null ? null : nameFault('digest-not-met', null);
  }

  #judge(record: ChainRecord): JournalFault | null {
    const { anchor, head } = record;
    const start = Math.max(record.start ?? head.id + 1, (anchor?.id ?? 0) + 1);
    this.#before = anchor !== null && anchor.id + 1 === start ? anchor.digest : '';
    this.#nextId = start;
    if (anchor !== null && anchor.digest !== '' && anchor.digest === this.#expected)
      this.#expectedId = anchor.id;
    const stray = this.#judgeEarlier(start, anchor);
    if (stray !== null) return stray;
    const found = this.#walk(start, head.id);
    if (found !== null) return found;
    if (this.#nextId <= head.id) return nameFault('removed', this.#nextId, head.id);
    if (head.digest !== '' && this.#before !== head.digest) return nameFault('end-differs', head.id);
    const { last } = this.#frame;
    if (last !== null && last > head.id) return nameFault('inserted', head.id + 1, last);
    if (anchor !== null && this.#said !== describeAnchor(anchor)) return nameFault('anchor-differs', start);
    if (this.#expected !== null && this.#expectedId === null) return nameFault('digest-not-met', null);
    return null;
  }

  /** Before the chain only entries from before its time may stand, and none that retention has removed. */
  #judgeEarlier(start: number, anchor: Anchor | null): JournalFault | null {
    const { first } = this.#frame;
    if (first === null || first >= start) return null;
    if (first < 1 || first <= (anchor?.id ?? 0)) return nameFault('inserted', first);
    const sql = 'SELECT min(id) FROM journal WHERE id < ? AND digest IS NOT NULL';
    const chained = this.#reader.value(sql, start) as number | null;
    if (chained !== null) return nameFault('inserted', chained);
    this.#unchained = this.#reader.value('SELECT count(*) FROM journal WHERE id < ?', start) as number;
    return null;
  }

  #walk(from: number, to: number): JournalFault | null {
    for (let after = from - 1; ;) {
      const rows = readChained(this.#reader, after, to, PAGE_ROWS);
      for (const row of rows) {
        if (row.id > this.#nextId) return nameFault('removed', this.#nextId, row.id - 1);
        if (digestEntry(this.#before, row.cells) !== row.digest)
          return explainMismatch(this.#reader, row.id, this.#before, to);
        this.#take(row);
      }
      if (rows.length < PAGE_ROWS) return null;
      after = rows[rows.length - 1]!.id;
    }
  }

  #take({ id, digest, cells }: ChainedEntry): void {
    if (digest === this.#expected) this.#expectedId = id;
    if (cells[KIND] === 'gateway' && cells[SUBJECT] === RETENTION_SUBJECT && cells[TEXT] !== null)
      this.#said = String(cells[TEXT]);
    this.#before = digest;
    this.#nextId = id + 1;
    this.#entries += 1;
  }
}

const KIND = CHAINED_COLUMNS.indexOf('kind');
const SUBJECT = CHAINED_COLUMNS.indexOf('subject');
const TEXT = CHAINED_COLUMNS.indexOf('text');
