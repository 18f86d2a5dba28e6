/** The section `sinks`: receivers that records are forwarded to. One line for each kind. */
import * as z from 'zod';
import { list } from './leaves.js';
import { filesSink } from './sink-files-schema.js';
import { httpSink } from './sink-http-schema.js';
import { mqttSink } from './sink-mqtt-schema.js';
import { postgresSink } from './sink-postgres-schema.js';
import { sparkplugSink } from './sink-sparkplug-schema.js';

/** A site has a handful of receivers; each is asked by one lane of its own. */
const SINKS_MAX = 16;

const KINDS = [mqttSink, httpSink, filesSink, postgresSink, sparkplugSink] as const;

const KIND_NAMES = KINDS.map(({ shape }) => shape.kind.value).join(', ');

export const sinksSection = list(
  z.discriminatedUnion('kind', KINDS, { error: `a sink whose kind is one of ${KIND_NAMES}` }),
  'sinks',
  'Receivers that rollups, transients, alarms and journal are forwarded to. None: nothing is kept for anybody.',
)
  .max(SINKS_MAX, { error: `at most ${SINKS_MAX} sinks` })
  .default([]);
