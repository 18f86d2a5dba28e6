/** What the HTTP interface reads of the journal beyond the entries that are told over MQTT too. */
import type { JournalEntry } from '../core/alarm-rows.js';
import type { OrderedQuery, Page } from './deps.js';

export interface JournalRow extends JournalEntry {
  readonly id: number;
  /** hexadecimal; null: written before entries were chained */
  readonly digest: string | null;
}

/** null: whatever it is */
export interface JournalQuery extends OrderedQuery {
  readonly subject: string | null;
  readonly kind: string | null;
  readonly what: string | null;
}

/** See the store's verify-journal. */
export interface JournalProof {
  readonly fault: {
    readonly kind: 'altered' | 'removed' | 'inserted' | 'reordered' | 'rewritten';
    readonly id: number | null;
    readonly says: string;
    readonly advice: string;
  } | null;
  readonly entries: number;
  readonly unchained: number;
  readonly removed: {
    readonly id: number;
    /** '': it was not chained */
    readonly digest: string;
    readonly count: number;
    readonly at: number;
  } | null;
  readonly head: { readonly id: number; readonly digest: string } | null;
  readonly expectedId: number | null;
}

export interface JournalReader {
  journal(query: JournalQuery): Promise<Page<JournalRow>>;
  journalProof(expected: string | null): Promise<JournalProof>;
  /** entries behind a number, at most `limit`, in order */
  journalSince(query: { readonly id: number; readonly limit: number }): Promise<readonly JournalRow[]>;
  /** number of the last entry; 0: there is none */
  journalEnd(): Promise<number>;
}
