/** Entries of the outbox on their way to a sink: what is to be sent of them, and what is done with already. */
import type { OutboxEntry } from '../store/outbox-content.js';
import type { OutboxReader } from '../store/outbox-reader.js';
import { OUTBOX_STREAMS, type OutboxStream } from '../store/outbox-streams.js';
import type { Gap } from './cursor.js';
import type { SinkRecord } from './sink.js';
import type { Settled } from './sink-book.js';

export interface Picked {
  readonly entry: OutboxEntry;
  /** null: nothing is sent of it */
  readonly record: SinkRecord | null;
}

/** Of one stream, at most `limit`, in order. */
export function pickEntries(
  outbox: OutboxReader,
  code: number,
  [after, to]: Gap,
  limit: number,
  epoch: number,
  isBacklog: boolean,
): Picked[] {
  const entries = outbox.snapshot(() => outbox.read(streamOf(code), { after, to, limit }));
  return entries.map((entry) => ({ entry, record: toRecord(entry, epoch, isBacklog) }));
}

export function streamOf(code: number): OutboxStream {
  const stream = OUTBOX_STREAMS.find((one) => one.code === code);
  if (stream === undefined) throw new Error(`no stream of the outbox has the code ${code}`);
  return stream;
}

/** Null: it is superseded, or the store holds it no more. `epoch`: of the outbox, ms. */
export function toRecord(entry: OutboxEntry, epoch: number, isBacklog: boolean): SinkRecord | null {
  const { content, name, start, code } = entry;
  if (typeof content === 'string') return null;
  const { stream, period } = streamOf(code);
  const base = { content, isBacklog, subject: name };
  switch (stream) {
    case 'rollups':
    case 'manifests':
      return { ...base, key: `${name}|${period}|${start}`, revision: entry.revision, at: start };
    case 'transients':
      return { ...base, key: `${name}|${start}`, revision: entry.revision, at: start };
    case 'alarms':
      return { ...base, key: name, revision: entry.revision, at: entry.at };
    case 'journal': {
      const at = content.stream === 'journal' ? content.row.at : entry.at;
      // numbers begin anew with another store: its entries replace those of the one before
      return { ...base, key: String(start), revision: epoch, at };
    }
  }
}

/** What becomes of an entry of which nothing is sent. */
export function settleUnsent({ entry }: Picked): Settled {
  const { code, position, subject, content } = entry;
  return { code, position, subject, outcome: content === 'superseded' ? 'superseded' : 'expired' };
}
