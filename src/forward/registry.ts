/** The kinds of sinks, one line each. A kind's settings are its part of the configuration, see config/sink-…-schema.ts. */
import { openFilesSink, type FilesSettings } from './files.js';
import { openHttpSink, type HttpSettings } from './http.js';
import { openMqttSink, type MqttSettings } from './mqtt.js';
import { openPostgresSink, type PostgresSettings } from './postgres/postgres-sink.js';
import { openSparkplugSink, type SparkplugSettings } from './sparkplug/sparkplug-sink.js';
import type { Sink, SinkParts } from './sink.js';

// prettier-ignore
type KindSettings =
  | MqttSettings
  | HttpSettings
  | FilesSettings
  | PostgresSettings
  | SparkplugSettings;

/** What the forwarder itself reads of a sink's settings; survives a structured clone. */
export interface SinkCommon {
  readonly name: string;
  readonly streams: readonly string[];
  readonly periods: readonly string[];
  /** records a second behind the live ones */
  readonly backlogPerS: number;
  readonly ageDaysMax: number;
  readonly backlogBytesMax: number;
  readonly deadlineMs: number;
  readonly retryMostMs: number;
  /** passwords, tokens, keys and certificates by stem: password, secret, token, ca, cert, key */
  readonly secrets: ReadonlyMap<string, string>;
}

export type SinkSettings = SinkCommon & KindSettings;

type Openers = {
  readonly [K in KindSettings['kind']]: (
    settings: SinkCommon & Extract<KindSettings, { kind: K }>,
    parts: SinkParts,
  ) => Sink;
};

const OPENERS: Openers = {
  mqtt: openMqttSink,
  http: openHttpSink,
  files: openFilesSink,
  postgres: openPostgresSink,
  sparkplug: openSparkplugSink,
};

/** Nothing is connected yet. */
export function openSink(settings: SinkSettings, parts: SinkParts): Sink {
  // the opener of a kind is given the settings of that kind
  const open = OPENERS[settings.kind] as unknown as (settings: SinkSettings, parts: SinkParts) => Sink;
  return open(settings, parts);
}
