/** A message of the gateway itself as the broker library takes it. */
import type { PublishPacket } from 'aedes';

export function toPacket(topic: string, payload: string | Uint8Array, retain: boolean): PublishPacket {
  const bytes = typeof payload === 'string' ? Buffer.from(payload, 'utf8') : Buffer.from(payload);
  return { cmd: 'publish', topic, payload: bytes, qos: 1, retain, dup: false };
}
