/** Entries of the journal: what is the same in most of them is filled in. */
import type { JournalEntry } from './alarm-rows.js';
import type { CoreState } from './state.js';

/** What an entry must say; the rest is empty, and not announced to the operator. */
export type EntryParts = Pick<JournalEntry, 'at' | 'detectedAt' | 'kind' | 'subject' | 'text'> &
  Partial<JournalEntry>;

/** `configuration`: revision in force. */
export function entryOf(parts: EntryParts, configuration: string): JournalEntry {
  return { from: '', to: '', who: '', what: '', annunciated: false, configuration, evidence: null, ...parts };
}

/** Enters something that the core came to know now. */
export function enter(state: CoreState, parts: Omit<EntryParts, 'detectedAt'>): void {
  state.out.journal.push(entryOf({ detectedAt: state.now, ...parts }, state.plan.revision));
}
