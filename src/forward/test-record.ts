/** The record that tries a sink out: an entry of the journal under the number 0, which no real entry has. */
import type { SinkRecord } from './sink.js';

export function makeTestRecord(now: number): SinkRecord {
  const text = 'Test record: it was sent to see whether the receiver takes records, and means nothing else.';
  return {
    content: {
      stream: 'journal',
      row: {
        ...{ at: now, detectedAt: now, kind: 'gateway', subject: 'gateway', from: '', to: '', who: '', text },
        ...{ what: '', annunciated: false, configuration: '', evidence: null },
      },
    },
    key: '0',
    subject: 'gateway',
    revision: now,
    at: now,
    isBacklog: false,
  };
}
