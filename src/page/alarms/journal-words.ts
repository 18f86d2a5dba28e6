/** Entries of the journal as sentences. */
import type { JournalChange } from '../../../shared/alarm-terms.js';
import type { JournalEntry } from '../data/bodies.js';

const CHANGES: Readonly<Record<JournalChange, string>> = {
  '': '',
  raised: 'raised',
  returned: 'returned to normal',
  acknowledged: 'acknowledged',
  confirmed: 'action taken, confirmed',
  reset: 'reset',
  shelved: 'shelved',
  unshelved: 'taken off the shelf',
  'shelf-expired': 'shelf ended',
  suppressed: 'suppressed by design',
  unsuppressed: 'no longer suppressed',
  'taken-out-of-service': 'taken out of service',
  'returned-to-service': 'returned to service',
  grouped: 'put under another alarm',
  ungrouped: 'speaks for itself again',
  annunciated: 'told to the operator',
  'flood-began': 'flood of alarms began',
  'flood-ended': 'flood of alarms ended',
};

export const CHANGE_WORDS = CHANGES;

/** What changed, in words; entries without a word of their own have their kind. */
export function nameChange({ what, kind, to }: JournalEntry): string {
  if (what !== '') return CHANGES[what];
  return to === '' ? kind : `${kind}: ${to}`;
}
