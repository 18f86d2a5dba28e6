/**
 * Records as they are forwarded to other systems, over MQTT and HTTP: one frame around the record, the same for each stream.
 * A receiver keeps one copy for each (`stream`, `key`), and replaces it only by one with a higher `revision`.
 */
import { z } from 'zod';
import { alarmSchema, journalSchema, rollupSchema } from './out-messages.js';
import { utcSchema } from './time.js';

const count = z.int().min(0);

export const FORWARD_STREAMS = ['rollups', 'transients', 'alarms', 'journal', 'manifests'] as const;

export const transientSchema = z
  .object({
    motor: z.string(),
    from: utcSchema,
    to: utcSchema,
    edges: count.describe('changes of state or of modulation'),
    kind: z.enum(['start', 'stop', 'start-stop', 'other']),
    counts: z
      .array(z.object({ sensor: z.string(), pulses: count, ms: count }))
      .describe('whole increments of class `transient` that overlap it; two transients may share one'),
  })
  .describe('A start, a stop, or a merged run of them, guards included; motor and from identify it');

export const manifestSchema = z
  .object({
    sensor: z.string().describe('<motor>/<position>'),
    period: z.enum(['1m', '10m', '1h']),
    day: utcSchema.describe('midnight UTC'),
    rows: count.describe('rollups of the day'),
    pulses: count.describe('of all seven classes'),
    ms: count.describe('of all seven classes, milliseconds'),
    highest_revision: count,
  })
  .describe(
    'What a day of one sensor and period holds, with which a receiver proves that nothing is missing',
  );

export const forwardedSchema = z
  .object({
    site: z.string(),
    stream: z.enum(FORWARD_STREAMS),
    key: z
      .string()
      .describe(
        'unique in its stream: rollups and manifests <motor>/<position>|<period>|<start ms>, transients <motor>|<from ms>, alarms their id, journal its number',
      ),
    subject: z.string().describe('sensor, motor, or the subject of an alarm or entry'),
    revision: count.describe('replaces what the receiver has under this key only when it is higher'),
    at: utcSchema.describe('start of a rollup, transient or manifest; time of an alarm or entry'),
    backlog: z.boolean().describe('comes late, behind what is live'),
    record: z
      .union([rollupSchema, transientSchema, alarmSchema, journalSchema, manifestSchema])
      .nullable()
      .describe('by stream; null: withdrawn, the receiver drops its copy'),
  })
  .describe('A record that is forwarded to another system');

export type ForwardedMessage = z.output<typeof forwardedSchema>;
export type TransientMessage = z.output<typeof transientSchema>;
export type ManifestMessage = z.output<typeof manifestSchema>;
