/**
 * Retained messages in the store, one record per topic, written in the transaction of the message itself. A topic that was
 * cleared keeps a record that says so. Bounded by the configured topics: what is refused is not retained.
 */
import type { CheckpointRow } from '../core/rows.js';
import type { RetainedMessage } from './protocol.js';

const PREFIX = 'retained:';
const VERSION = 1;

export function retainedRow(topic: string, payload: Uint8Array): CheckpointRow {
  const json =
    payload.length === 0 ? 'null' : JSON.stringify({ base64: Buffer.from(payload).toString('base64') });
  return { key: `${PREFIX}${topic}`, version: VERSION, json };
}

/** Records of another version are left out: they come anew from the field. */
export function readRetained(rows: readonly CheckpointRow[]): RetainedMessage[] {
  return rows.flatMap(({ key, version, json }) => {
    if (!key.startsWith(PREFIX) || version !== VERSION) return [];
    const found = JSON.parse(json) as { base64: string } | null;
    return found === null
      ? []
      : [{ topic: key.slice(PREFIX.length), payload: Uint8Array.from(Buffer.from(found.base64, 'base64')) }];
  });
}
