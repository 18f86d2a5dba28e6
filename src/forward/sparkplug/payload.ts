/**
 * Payloads of Sparkplug B.
 * Source: Sparkplug 3.0 (ISO/IEC 20237), chapter 6, the protocol buffer schema and the tables of data types and qualities.
 */
import { ProtobufWriter, readFields } from './protobuf.js';

/** Numbers of the data types in use. */
export const DataType = { int32: 3, int64: 4, double: 10, boolean: 11, string: 12, dateTime: 13 } as const;
export type DataType = (typeof DataType)[keyof typeof DataType];

export const Quality = { bad: 0, good: 192, stale: 500 } as const;
export type Quality = (typeof Quality)[keyof typeof Quality];

export type MetricValue = number | string | boolean | null;

export interface Metric {
  /** null: the alias stands for it */
  readonly name: string | null;
  /** null: it has none */
  readonly alias: number | null;
  /** event time, ms */
  readonly timestamp: number;
  readonly type: DataType;
  /** births tell it, data leave it away */
  readonly tellsType: boolean;
  readonly isHistorical: boolean;
  /** null: not known */
  readonly value: MetricValue;
  /** null: no properties */
  readonly quality: Quality | null;
  /** our own property beside `Quality`: some of its time is uncertain; null: it has no such property */
  readonly isUncertain: boolean | null;
}

export interface Payload {
  readonly timestamp: number;
  /** null: a death has none */
  readonly seq: number | null;
  readonly metrics: readonly Metric[];
}

/** Fields of a Payload, a Metric, a PropertySet and a PropertyValue. */
const PAYLOAD = { timestamp: 1, metrics: 2, seq: 3 } as const;
const METRIC = {
  ...{ name: 1, alias: 2, timestamp: 3, datatype: 4, isHistorical: 5, isNull: 7, properties: 9 },
  ...{ intValue: 10, longValue: 11, doubleValue: 13, booleanValue: 14, stringValue: 15 },
} as const;
const PROPERTIES = { keys: 1, values: 2 } as const;
const PROPERTY = { type: 1, intValue: 3, booleanValue: 7 } as const;

const writer = new ProtobufWriter();

export function encodePayload({ timestamp, seq, metrics }: Payload): Buffer {
  writer.integer(PAYLOAD.timestamp, timestamp);
  for (const metric of metrics) writer.message(PAYLOAD.metrics, () => writeMetric(metric));
  if (seq !== null) writer.integer(PAYLOAD.seq, seq);
  return writer.finish();
}

function writeMetric(metric: Metric): void {
  const { name, alias, timestamp, type, tellsType, isHistorical, value, quality } = metric;
  if (name !== null) writer.text(METRIC.name, name);
  if (alias !== null) writer.integer(METRIC.alias, alias);
  writer.integer(METRIC.timestamp, timestamp);
  if (tellsType) writer.integer(METRIC.datatype, type);
  if (isHistorical) writer.boolean(METRIC.isHistorical, true);
  if (value === null) writer.boolean(METRIC.isNull, true);
  if (quality !== null) writer.message(METRIC.properties, () => writeProperties(quality, metric.isUncertain));
  if (value !== null) writeValue(type, value);
}

function writeValue(type: DataType, value: Exclude<MetricValue, null>): void {
  switch (type) {
    case DataType.int32:
      return writer.integer(METRIC.intValue, Number(value));
    case DataType.int64:
    case DataType.dateTime:
      return writer.integer(METRIC.longValue, Number(value));
    case DataType.double:
      return writer.double(METRIC.doubleValue, Number(value));
    case DataType.boolean:
      return writer.boolean(METRIC.booleanValue, value === true);
    case DataType.string:
      return writer.text(METRIC.stringValue, String(value));
  }
}

function writeProperties(quality: Quality, isUncertain: boolean | null): void {
  writer.text(PROPERTIES.keys, 'Quality');
  if (isUncertain !== null) writer.text(PROPERTIES.keys, 'uncertain');
  writer.message(PROPERTIES.values, () => {
    writer.integer(PROPERTY.type, DataType.int32);
    writer.integer(PROPERTY.intValue, quality);
  });
  if (isUncertain === null) return;
  writer.message(PROPERTIES.values, () => {
    writer.integer(PROPERTY.type, DataType.boolean);
    writer.boolean(PROPERTY.booleanValue, isUncertain);
  });
}

/** Whether a command asks for a metric of this name to be true. Throws a `RangeError` where it is no payload. */
export function commandsTrue(bytes: Buffer, name: string): boolean {
  for (const { field, value } of readFields(bytes)) {
    if (field !== PAYLOAD.metrics || typeof value === 'number') continue;
    const metric = [...readFields(value)];
    const isNamed = metric.some(
      (part) =>
        part.field === METRIC.name && part.value.toString() === name && typeof part.value !== 'number',
    );
    if (isNamed && metric.some((part) => part.field === METRIC.booleanValue && part.value === 1)) return true;
  }
  return false;
}
