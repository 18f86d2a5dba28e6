/** A record as the message of the contract, see shared/forward-messages.ts. */
import type { ForwardedMessage, ManifestMessage, TransientMessage } from '../../shared/forward-messages.js';
import { formatUtc } from '../../shared/time.js';
import { writeAlarm, writeJournal, writeRollup } from '../../shared/write-messages.js';
import type { Transient } from '../core/rows.js';
import type { Content, Manifest, SinkParts, SinkRecord } from './sink.js';

export function toForwarded(
  record: SinkRecord,
  { site, adviceOf }: Pick<SinkParts, 'site' | 'adviceOf'>,
): ForwardedMessage {
  const { content, key, subject, revision, at, isBacklog } = record;
  return {
    ...{ site, stream: content.stream, key, subject, revision, at: formatUtc(at), backlog: isBacklog },
    record: writeContent(content, adviceOf),
  };
}

function writeContent(content: Content, adviceOf: SinkParts['adviceOf']): ForwardedMessage['record'] {
  switch (content.stream) {
    case 'rollups':
      return writeRollup(content.row);
    case 'transients':
      return content.row === null ? null : writeTransient(content.row);
    case 'alarms':
      return writeAlarm(content.row, adviceOf(content.row.id));
    case 'journal':
      return writeJournal(content.row);
    case 'manifests':
      return writeManifest(content.row);
  }
}

function writeTransient(row: Transient): TransientMessage {
  const { motor, from, to, edges, kind, counts } = row;
  return { motor, from: formatUtc(from), to: formatUtc(to), edges, kind, counts };
}

function writeManifest(row: Manifest): ManifestMessage {
  const { sensor, period, day, rows, pulses, ms, highestRevision } = row;
  return { sensor, period, day: formatUtc(day), rows, pulses, ms, highest_revision: highestRevision };
}

/** `<motor>/<position>` as its two names. */
export function splitSensor(sensor: string): [motor: string, position: string] {
  const slash = sensor.indexOf('/');
  return [sensor.slice(0, slash), sensor.slice(slash + 1)];
}
