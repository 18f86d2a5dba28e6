/**
 * The bodies of the HTTP interface: one zod schema each, from which the OpenAPI document is made as well.
 * Times are RFC 3339 with milliseconds and Z; null means "not known", never zero. Rates: pulses per minute of exposure.
 */
import { z } from 'zod';
import { CLASS_NAMES, LEDGER_CLASSES } from '../core/words.js';

const time = z.iso.datetime({ precision: 3 }).describe('RFC 3339, milliseconds, Z');
const timeOrNull = time.nullable();
const count = z.int().min(0);
const quality = z.enum(['good', 'uncertain', 'bad']);
const next = z
  .string()
  .nullable()
  .describe('give it as `cursor` to get the next page; null: this is the last');

const classSums = z.object({ pulses: z.int(), ms: z.int() });
const classes = z
  .object(Object.fromEntries(LEDGER_CLASSES.map((c) => [CLASS_NAMES[c], classSums])))
  .describe('pulses and milliseconds of each of the seven classes');

export const rateBody = z.object({
  from: time,
  to: time,
  pulses: count,
  exposure_ms: count,
  rate_per_min: z.number().nullable().describe('null: no running exposure'),
  lower_per_min: z.number().nullable(),
  upper_per_min: z.number().nullable(),
  dispersion: z.number(),
  quality,
});

const sensorSummary = z.object({
  sensor: z.string(),
  motor: z.string(),
  position: z.string(),
  device: z.string().nullable().describe('null: no reading yet; empty: the messages name none'),
  last_reading_at: timeOrNull,
  rate: rateBody
    .nullable()
    .describe('over the trailing running exposure; null: none issued since the gateway started'),
});

export const transientBody = z.object({
  motor: z.string(),
  from: time,
  to: time,
  kind: z.string(),
  edges: count,
  pulses: count.describe('sum over the sensors'),
  counts: z.array(z.object({ sensor: z.string(), pulses: count, ms: count })),
});

export const motorsBody = z.object({
  site: z.string(),
  zone: z.string().describe('IANA time zone of the site'),
  now: time,
  motors: z.array(
    z.object({
      motor: z.string(),
      zone: z.string(),
      duty_group: z.string(),
      has_run_state: z.boolean().describe('false: no signal; taken as running, uncertain'),
      run_state: z.enum(['stopped', 'starting', 'running', 'stopping', 'fault', 'unknown']),
      modulating: z.boolean(),
      since: timeOrNull,
      last_message_at: timeOrNull,
      sensors: z.array(sensorSummary),
      last_transient: transientBody.nullable(),
      open_alarms: count,
    }),
  ),
});

export const sensorsBody = z.object({ now: time, sensors: z.array(sensorSummary) });

export const rollupsBody = z.object({
  rollups: z.array(
    z.object({
      sensor: z.string(),
      period: z.enum(['10s', '1m', '10m', '1h']),
      start: time,
      classes,
      rate_per_min: z
        .number()
        .nullable()
        .describe('running pulses over running exposure; null: no running exposure'),
      uncertain_ms: count,
      revision: count,
    }),
  ),
  next,
});

export const transientsBody = z.object({ transients: z.array(transientBody), next });

const evidence = z.object({
  from: time,
  to: time,
  pulses: count,
  exposure_ms: count,
  rate_per_min: z.number().nullable(),
  lower_per_min: z.number().nullable(),
  upper_per_min: z.number().nullable(),
  dispersion: z.number(),
  confidence: z.number(),
  setpoint_per_min: z.number().nullable(),
  deadband_per_min: z.number().nullable(),
  on_delay_ms: count,
  off_delay_ms: count,
  run_states: z.array(z.object({ from: time, to: time, state: z.string(), modulating: z.boolean() })),
  configuration: z.string().describe('revision of the configuration it was decided under'),
  says: z.string().describe('the evidence in one sentence'),
});

export const alarmBody = z.object({
  id: z.string(),
  motor: z.string(),
  alarm: z.string(),
  sensor: z.string().nullable(),
  kind: z.string(),
  priority: z.string(),
  state: z.string(),
  active: z.boolean(),
  acknowledged: z.boolean(),
  since: timeOrNull,
  acknowledged_by: z.string(),
  note: z.string(),
  consequence: z.string(),
  action: z.string().describe('what the operator is asked to do'),
  evidence: evidence.nullable(),
});

export const alarmsBody = z.object({ now: time, alarms: z.array(alarmBody) });

export const journalBody = z.object({
  journal: z.array(
    z.object({
      at: time,
      detected_at: time,
      kind: z.string(),
      subject: z.string(),
      from: z.string(),
      to: z.string(),
      who: z.string(),
      text: z.string(),
      evidence: evidence.nullable(),
    }),
  ),
  next,
});

export const ledgerBody = z.object({
  balanced: z.boolean(),
  sensors: z.array(
    z.object({
      sensor: z.string(),
      balanced: z.boolean(),
      counted: z.int().describe('last minus first of every segment, unwrapped'),
      classified: z.int().describe('sum of the seven classes'),
      pending: z.int().describe('not classified yet'),
      classes,
      unknown: z.array(
        z.object({
          reason: z.string(),
          from: time,
          to: time,
          least: count,
          most: count.nullable().describe('null: no bound is known'),
        }),
      ),
    }),
  ),
});

export const diagnosticsBody = z.object({
  diagnostics: z.array(
    z.object({
      subject: z.string(),
      kind: z.string(),
      count,
      first_at: time,
      last_at: time,
      detail: z.string(),
    }),
  ),
});

export const quarantineBody = z.object({
  quarantine: z.array(
    z.object({
      at: time,
      reason: z.string(),
      topic: z.string(),
      client: z.string(),
      size: count,
      first_bytes: z.string().describe('the beginning of the payload, base64'),
    }),
  ),
  next,
});

export const acknowledgeRequest = z.strictObject({
  who: z.string().trim().min(1).max(64).describe('name or initials of the person'),
  note: z.string().max(500).default(''),
});

export const backupRequest = z.strictObject({
  path: z
    .string()
    .min(1)
    .max(4096)
    .describe('file to write, absolute, on the machine of the gateway; must not exist'),
});

export const backupBody = z.object({ path: z.string(), bytes: count });

export const problemBody = z.object({
  type: z.string(),
  title: z.string(),
  status: z.int(),
  detail: z.string(),
  hint: z.string(),
  faults: z.array(z.object({ name: z.string(), fault: z.string() })).optional(),
});

export const liveBody = z.object({ live: z.literal(true) });
export const readyBody = z.object({ ready: z.boolean(), reasons: z.array(z.string()) });
