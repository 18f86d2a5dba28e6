/**
 * The chain that the entries of the journal form: each carries a digest over the digest before it and over itself, and a
 * record beside the table says where the chain begins, what retention took, and where it ends.
 * Digest of an entry: SHA-256 over the 32 bytes of the digest before it (zeros before the first) and the JSON text, in
 * UTF-8, of the array of its cells in the order of `CHAINED_COLUMNS`, its number first.
 * Source: SHA-256 of FIPS 180-4; the rest is our choice, because a digest over the number too binds the order.
 */
import { createHash } from 'node:crypto';
import type { Cell, Cells, Statements } from './statements.js';

/** What is digested, in this order. A column that is added later belongs behind these, or old digests no longer hold. */
export const CHAINED_COLUMNS: readonly string[] = [
  'id',
  'at',
  'detected_at',
  'kind',
  'subject',
  'before',
  'after',
  'who',
  'text',
  'what',
  'annunciated',
  'configuration',
  'evidence',
];

/** An entry as it is digested: numbers, texts and null as the columns hold them, evidence as its JSON text. */
export type ChainedCells = Cells;

const DIGEST_BYTES = 32;
const NOTHING = Buffer.alloc(DIGEST_BYTES);

/** Before the first chained entry there is nothing: `before` empty. Digests in lower-case hexadecimal. */
export function digestEntry(before: string, cells: ChainedCells): string {
  return createHash('sha256')
    .update(before === '' ? NOTHING : Buffer.from(before, 'hex'))
    .update(JSON.stringify(cells))
    .digest('hex');
}

/** The last entry that retention removed, of how many in all, and when (ms). */
export interface Anchor {
  readonly id: number;
  /** '': it was written before entries were chained */
  readonly digest: string;
  readonly count: number;
  readonly at: number;
}

export interface ChainRecord {
  /** number of the first chained entry; null: there is none */
  readonly start: number | null;
  /** null: retention removed nothing yet */
  readonly anchor: Anchor | null;
  /** the last entry; `digest` '': nothing is chained yet */
  readonly head: { readonly id: number; readonly digest: string };
}

export const CHAIN_KEY = 'journal-chain';

export function putChainRecord(statements: Statements, record: ChainRecord): void {
  statements.prepare('INSERT OR REPLACE INTO meta VALUES (?, ?)').run(CHAIN_KEY, JSON.stringify(record));
}

/** null: there is none, or somebody left in its place what is none. */
export function readChainRecord(text: Cell): ChainRecord | null {
  if (typeof text !== 'string') return null;
  try {
    const found = JSON.parse(text) as Partial<ChainRecord> | null;
    const head = found?.head;
    if (typeof head?.id !== 'number' || typeof head.digest !== 'string') return null;
    const start = typeof found?.start === 'number' ? found.start : null;
    const anchor = found?.anchor ?? null;
    if (anchor !== null && (typeof anchor.id !== 'number' || typeof anchor.digest !== 'string')) return null;
    return { start, anchor, head };
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

/** Entries that retention writes about what it removed. */
export const RETENTION_SUBJECT = 'journal';

/**
 * The sentence with which retention enters into the journal what it removed. It stands in the chain, so that an anchor
 * that somebody moved no longer agrees with it.
 */
export function describeAnchor({ id, digest, count }: Anchor): string {
  const of = digest === '' ? 'which was not chained' : `digest ${digest}`;
  const entries = count === 1 ? '1 entry' : `${count} entries`;
  return `retention has removed ${entries} in all, the last of them number ${id}, ${of}`;
}
