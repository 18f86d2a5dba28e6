/** Body of the gateway's own state: health, intake, balance, storage, clock, configuration and sinks. Null: not known. */
import { z } from 'zod';
import { person } from '../../shared/person.js';
import { utcSchema } from '../../shared/time.js';

const count = z.int().min(0);
const utcOrNull = utcSchema.nullable();

const health = z.object({
  ready: z.boolean().describe('messages are taken in and stored'),
  reasons: z.array(z.string()).describe('why it is not ready; empty: it is'),
  flood_since: utcOrNull.describe('since when alarms flood; null: they do not'),
  own_alarms: z.array(z.object({ id: z.string(), says: z.string() })).describe('of the gateway itself'),
});

const intake = z.object({
  clients: count.describe('MQTT clients connected'),
  received: count.describe('publishes since the start'),
  acknowledged: count.describe('publishes answered after their commit, since the start'),
  refused: count.describe('messages that could not be used, since the start'),
  denied: count.describe('publishes where their client may not, since the start'),
  cut: count.describe('connections that the gateway ended, since the start'),
  per_s_1m: z.number().min(0).nullable().describe('publishes a second over the last minute'),
  per_s_10m: z.number().min(0).nullable().describe('publishes a second over the last 10 min'),
  pending_bytes: count.describe('bytes that wait for their commit'),
  commit_wait_ms: z.number().min(0).describe('age of the batch that waits for its commit; 0: none does'),
  last_commit_at: utcOrNull,
  commit_failures: count.describe('transactions that were rolled back, since the start'),
});

const ledger = z.object({
  state: z
    .enum(['balanced', 'unbalanced', 'not-proved'])
    .describe('not-proved: the first proof since the start is under way, or could not be had'),
  proved_at: utcOrNull.describe('when the store was last read for it'),
  sensors: count,
  counted: z.int().describe('last minus first count of every segment, unwrapped'),
  classified: z.int().describe('sum over the seven classes'),
  pending: z.int().describe('not classified yet'),
  unknown_stretches: count.describe('stretches of which nobody can know the pulses'),
  unbalanced: z.array(z.string()).describe('sensors that do not balance, the first 50'),
  says: z.string(),
});

const storage = z.object({
  folder: z.string(),
  database_bytes: count.nullable(),
  wal_bytes: count.nullable().describe('write-ahead log'),
  disk_bytes: count.nullable().describe('size of the file system that it is on'),
  free_bytes: count.nullable().describe('of that file system, free for the gateway'),
  retention: z.array(z.object({ records: z.string(), days: count })),
  says: z.string(),
});

export const clockBody = z.object({
  now: utcSchema.describe('time of the gateway'),
  wall: utcSchema.describe('time of the machine'),
  offset_ms: z
    .int()
    .describe('added to the time of the machine since a person let the gateway go on; 0: none'),
  trusted: z.boolean(),
  halted: z
    .boolean()
    .describe('nothing is taken in until the clock is set, or a person lets the gateway go on'),
  says: z.string(),
});

export const goOnRequest = z.strictObject({ who: person });

const configuration = z.object({
  file: z.string(),
  revision: z.string().describe('in force'),
  in_force_since: utcSchema,
  state: z
    .enum(['same', 'differs', 'not-valid', 'not-read'])
    .describe('the file now against what is in force; not-read: it has not been looked at yet'),
  file_revision: z.string().nullable().describe('of the file; null: it is not valid, or was not read'),
  changes: z.array(
    z.object({
      path: z.string(),
      in_force: z.string().nullable().describe('JSON text; null: it is not there'),
      file: z.string().nullable().describe('JSON text; null: it is not there'),
      needs_restart: z.boolean(),
    }),
  ),
  more_changes: count.describe('changes beyond those listed'),
  problems: z.array(z.string()).describe('why the file is not valid, each with line and column'),
  says: z.string(),
});

export const sinkBody = z.object({
  sink: z.string(),
  kind: z.string(),
  state: z.enum(['working', 'behind', 'failing', 'idle']),
  last_delivered_at: utcOrNull,
  pending: count.describe('records that wait'),
  says: z.string(),
  file: z
    .enum(['same', 'differs', 'gone', 'not-known'])
    .describe('its settings in the configuration file, which take effect at the next start; gone: not there'),
});

const plcBody = z.object({
  server: z.string(),
  state: z
    .enum(['starting', 'listening', 'waiting', 'stopped', 'missing'])
    .describe('waiting: it is started again; missing: what it needs is not installed'),
  port: count.nullable().describe('null: it does not listen'),
  clients: count.describe('connections or sessions now'),
  requests: count.nullable().describe('since its process began; null: not counted'),
  refused: count.nullable().describe('of those, answered with an exception; null: not counted'),
  restarts: count.describe('of its process, since the start of the gateway'),
  says: z.string(),
});

export const gatewayBody = z
  .object({
    site: z.string(),
    zone: z.string().describe('IANA time zone of the site'),
    version: z.string(),
    started_at: utcSchema,
    uptime_ms: count,
    live_readers: count.describe('that follow the live stream'),
    health,
    intake,
    ledger,
    storage,
    clock: clockBody,
    configuration,
    plc: z.array(plcBody).describe('servers for PLC and HMI that are configured'),
    sinks: z.array(sinkBody),
    sinks_at_next_start: z.array(z.string()).describe('only the configuration file has them'),
  })
  .describe('How the gateway itself does');

export type GatewayBody = z.output<typeof gatewayBody>;
