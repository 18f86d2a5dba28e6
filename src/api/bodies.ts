/**
 * The bodies of the HTTP interface: one zod schema each, from which the OpenAPI document is made as well. What is told
 * over MQTT too (rates, rollups, alarms) has the very same body there and here.
 * Times are RFC 3339 with milliseconds and Z; null means "not known", never zero. Rates: pulses per minute of exposure.
 */
import { z } from 'zod';
import { ALARM_STATES } from '../../shared/alarm-terms.js';
import { TOLD_RUN_STATES } from '../../shared/ledger-terms.js';
import { alarmSchema, classesSchema, rateSchema, rollupSchema } from '../../shared/out-messages.js';
import { actionSchema, findingSchema } from '../../shared/maintenance.js';
import { utcSchema } from '../../shared/time.js';

const utcOrNull = utcSchema.nullable();
const count = z.int().min(0);
/** Of every list that comes in pages. */
export const next = z
  .string()
  .nullable()
  .describe('give it as `cursor` to get the next page; null: this is the last');

const sensorSummary = z.object({
  sensor: z.string(),
  motor: z.string(),
  position: z.string(),
  device: z.string().nullable().describe('null: no reading yet; empty: the messages name none'),
  last_reading_at: utcOrNull,
  interval_ms: count.describe('the reporting interval that the configuration states'),
  rate: rateSchema
    .nullable()
    .describe('over the trailing running exposure; null: none issued since the gateway started'),
});

const transientBody = z.object({
  motor: z.string(),
  from: utcSchema,
  to: utcSchema,
  kind: z.string(),
  edges: count,
  pulses: count.describe('sum over the sensors'),
  counts: z.array(z.object({ sensor: z.string(), pulses: count, ms: count })),
});

export const motorsBody = z.object({
  site: z.string(),
  zone: z.string().describe('IANA time zone of the site'),
  now: utcSchema,
  motors: z.array(
    z.object({
      motor: z.string(),
      zone: z.string(),
      duty_group: z.string(),
      has_run_state: z.boolean().describe('false: no signal; taken as running, uncertain'),
      run_state: z.enum(TOLD_RUN_STATES),
      modulating: z.boolean(),
      since: utcOrNull,
      last_message_at: utcOrNull,
      sensors: z.array(sensorSummary),
      last_transient: transientBody.nullable(),
      open_alarms: count,
    }),
  ),
  next,
});

export const sensorsBody = z.object({ now: utcSchema, sensors: z.array(sensorSummary), next });
export const rollupsBody = z.object({ rollups: z.array(rollupSchema), next });
export const transientsBody = z.object({ transients: z.array(transientBody), next });
export const actionsBody = z.object({ actions: z.array(actionSchema), next });
export const findingsBody = z.object({ findings: z.array(findingSchema), next });
export const alarmBody = alarmSchema;
export const alarmsBody = z.object({
  now: utcSchema,
  zone: z.string().describe('IANA time zone of the site'),
  flood: z
    .object({ since: utcSchema })
    .nullable()
    .describe('more than 10 alarms were announced in 10 min, and not fewer than 5 since; null: no flood'),
  missing: z
    .string()
    .nullable()
    .describe(
      'why the alarms of the store are not among them, those of the gateway itself are; null: all are',
    ),
  alarms: z.array(alarmSchema),
  next,
});
export const actResultsBody = z.object({
  results: z.array(
    z.object({
      id: z.string(),
      done: z.boolean(),
      state: z.enum(ALARM_STATES).nullable().describe('as it is now; null: there is no such alarm'),
      reason: z.string().describe('why it was not done, in a word; empty: it was'),
      says: z.string().describe('the same in a sentence'),
    }),
  ),
});

export const ledgerBody = z.object({
  balanced: z.boolean().describe('of all sensors that were asked for, on whichever page they are'),
  sensors: z.array(
    z.object({
      sensor: z.string(),
      balanced: z.boolean(),
      counted: z.int().describe('last minus first of every segment, unwrapped'),
      classified: z.int().describe('sum of the seven classes'),
      pending: z.int().describe('not classified yet'),
      classes: classesSchema,
      unknown: z.array(
        z.object({
          reason: z.string(),
          from: utcSchema,
          to: utcSchema,
          least: count,
          most: count.nullable().describe('null: no bound is known'),
        }),
      ),
    }),
  ),
  next,
});

export const diagnosticsBody = z.object({
  diagnostics: z.array(
    z.object({
      subject: z.string(),
      kind: z.string(),
      count,
      first_at: utcSchema,
      last_at: utcSchema,
      detail: z.string(),
    }),
  ),
  next,
});

export const quarantineBody = z.object({
  quarantine: z.array(
    z.object({
      at: utcSchema,
      reason: z.string(),
      topic: z.string(),
      client: z.string(),
      size: count,
      first_bytes: z.string().describe('the beginning of the payload, base64'),
    }),
  ),
  next,
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
  reason: z.string().optional().describe('the refusal in a word, where there are several'),
  faults: z.array(z.object({ name: z.string(), fault: z.string() })).optional(),
});

export const liveBody = z.object({ live: z.literal(true) });
export const readyBody = z.object({ ready: z.boolean(), reasons: z.array(z.string()) });
