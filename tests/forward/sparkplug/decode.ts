/**
 * Payloads read by the decoder of another implementation (generated code of a protocol buffer compiler), and by hand where a bit
 * must be seen as it is on the wire.
 */
import { createRequire } from 'node:module';

/** As the generated decoder answers; 64-bit numbers are turned into plain ones. */
export interface DecodedMetric {
  readonly name: string | null;
  readonly alias: number | null;
  readonly timestamp: number | null;
  readonly datatype: number | null;
  readonly isHistorical: boolean;
  readonly isNull: boolean;
  readonly value: number | string | boolean | null;
  readonly properties: Readonly<Record<string, { type: number; value: number | boolean }>>;
}

export interface DecodedPayload {
  readonly timestamp: number | null;
  readonly seq: number | null;
  readonly metrics: readonly DecodedMetric[];
}

type Raw = Record<string, unknown> & { toJSON(): Record<string, unknown> };

interface Decoder {
  decode(bytes: Uint8Array): Raw;
}

const require = createRequire(import.meta.url);
const root = require('sparkplug-payload/lib/sparkplugPayloadProto.js') as {
  org: { eclipse: { tahu: { protobuf: { Payload: Decoder } } } };
};

/** Throws where the bytes are no payload. */
export function decodePayload(bytes: Buffer): DecodedPayload {
  const raw = root.org.eclipse.tahu.protobuf.Payload.decode(bytes);
  return {
    timestamp: numberOf(raw, 'timestamp'),
    seq: numberOf(raw, 'seq'),
    metrics: (raw['metrics'] as Raw[]).map(readMetric),
  };
}

/** Null: the field is not on the wire. Fields that were not sent stand on the prototype only. */
function numberOf(raw: object, name: string): number | null {
  return Object.hasOwn(raw, name) ? Number((raw as Record<string, unknown>)[name]) : null;
}

const VALUES = ['intValue', 'longValue', 'doubleValue', 'booleanValue', 'stringValue'];

function valueOf(raw: Raw): number | string | boolean | null {
  const name = VALUES.find((field) => Object.hasOwn(raw, field));
  if (name === undefined) return null;
  return name === 'longValue' ? Number(raw[name]) : (raw[name] as number | string | boolean);
}

function readMetric(raw: Raw): DecodedMetric {
  const set = (Object.hasOwn(raw, 'properties') ? raw['properties'] : null) as {
    keys: string[];
    values: Raw[];
  } | null;
  return {
    name: Object.hasOwn(raw, 'name') ? (raw['name'] as string) : null,
    ...{ alias: numberOf(raw, 'alias'), timestamp: numberOf(raw, 'timestamp') },
    datatype: numberOf(raw, 'datatype'),
    isHistorical: Object.hasOwn(raw, 'isHistorical') && raw['isHistorical'] === true,
    isNull: Object.hasOwn(raw, 'isNull') && raw['isNull'] === true,
    value: valueOf(raw),
    properties: Object.fromEntries(
      (set?.keys ?? []).map((key, i) => [
        key,
        { type: Number(set!.values[i]!['type']), value: valueOf(set!.values[i]!) as number | boolean },
      ]),
    ),
  };
}

/** The metrics of a payload as bytes, cut out by hand: field 2, wire type 2. */
export function cutMetrics(bytes: Buffer): Buffer[] {
  const found: Buffer[] = [];
  let at = 0;
  const varint = (): number => {
    let value = 0;
    for (let shift = 1; ; shift *= 128) {
      const byte = bytes[at++]!;
      value += (byte & 127) * shift;
      if (byte < 128) return value;
    }
  };
  while (at < bytes.length) {
    const key = varint();
    if ((key & 7) === 0) varint();
    else if ((key & 7) === 2) {
      const size = varint();
      if (key >> 3 === 2) found.push(bytes.subarray(at, at + size));
      at += size;
    } else throw new Error(`wire type ${key & 7} at the top of a payload`);
  }
  return found;
}
