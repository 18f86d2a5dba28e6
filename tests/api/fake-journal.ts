/** A journal of one entry, for tests of the HTTP interface. */
import type { JournalProof, JournalRow } from '../../src/api/journal-reader.js';
import type { Evidence } from '../../src/core/alarm-rows.js';
import { NOW } from './fake-entries.js';

const DIGEST = 'ab'.repeat(32);

export function makeFakeJournal(subject: string, evidence: Evidence): JournalRow[] {
  return [
    {
      ...{ id: 1, digest: DIGEST, at: NOW, detectedAt: NOW, kind: 'alarm', subject, from: 'normal' },
      ...{ to: 'unacknowledged', who: '', text: 'raised', what: 'raised', annunciated: true },
      ...{ configuration: 'abc123', evidence },
    },
  ];
}

export const INTACT: JournalProof = {
  ...{ fault: null, entries: 1, unchained: 0, removed: null, expectedId: null },
  head: { id: 1, digest: DIGEST },
};
