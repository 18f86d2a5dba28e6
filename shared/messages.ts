/**
 * Messages from the field: what devices and drive reporters send, and how the gateway reads them.
 * The schema is the contract. Readings and drive states also have a reader written by hand, because they are most of the
 * load and the schema takes several times as long; a property test holds both to the same answers.
 * Unknown fields are ignored. A field may be absent, but not null: null says neither a value nor nothing.
 */
import { z } from 'zod';
import {
  COUNT_RULE,
  countField,
  DEVICE_RULE,
  deviceField,
  firmwareField,
  FLAG_RULE,
  flagField,
  isCount,
  isDevice,
  isJsonObject,
  isNumber,
  NUMBER_RULE,
  numberField,
  numberOrNull,
  OBJECT_RULE,
  readBySchema,
  refuse,
  type Read,
} from './fields.js';
import { modulatesIn, RUN_STATES, type RunStateName } from './ledger-terms.js';
import { readTime, TIME_RULE, timeSchema } from './time.js';

const STATE_RULE = `one of ${RUN_STATES.join(', ')}`;

/** A reading as the gateway takes it. Null: not in the message. Times in ms since the epoch. */
export interface ReadingMessage {
  /** '' when the message names none */
  readonly device: string;
  readonly count: number;
  readonly at: number | null;
  readonly seq: number | null;
  readonly boot: number | null;
  readonly upMs: number | null;
  readonly temperatureC: number | null;
  readonly supplyV: number | null;
  readonly check: boolean;
}

/** A drive's state as the gateway takes it; `modulating` follows from the state where the message leaves it out. */
export interface DriveStateMessage {
  readonly state: RunStateName;
  readonly at: number | null;
  readonly since: number | null;
  readonly modulating: boolean;
  readonly speedRpm: number | null;
  readonly loadPct: number | null;
  readonly switchingKhz: number | null;
  readonly dcLinkV: number | null;
}

/** '' where the message names no device or firmware. */
export interface SensorPresenceMessage {
  readonly online: boolean;
  readonly device: string;
  readonly firmware: string;
}

export interface DrivePresenceMessage {
  readonly online: boolean;
}

export const readingBody = z
  .object(
    {
      device: deviceField.optional().describe('serial number of the hardware; another one is a swap'),
      count: countField.describe('pulses since power-up, modulo the width of the counter'),
      at: timeSchema.optional().describe('when it was sampled; absent: the time of arrival, uncertain'),
      seq: countField.optional().describe('one more for each reading since power-up'),
      boot: countField.optional().describe('one more at each power-up'),
      up_ms: countField.optional().describe('milliseconds since power-up'),
      temperature_c: numberField.optional().describe('at the sensor, degrees Celsius'),
      supply_v: numberField.optional().describe('supply of the sensor, volt'),
      check: flagField.optional().describe('true during a function check'),
    },
    { error: OBJECT_RULE },
  )
  .describe('A cumulative count of discharges at a time');

export const readingSchema: z.ZodType<ReadingMessage> = readingBody.transform((body) => ({
  device: body.device ?? '',
  count: body.count + 0,
  at: body.at ?? null,
  seq: numberOrNull(body.seq),
  boot: numberOrNull(body.boot),
  upMs: numberOrNull(body.up_ms),
  temperatureC: numberOrNull(body.temperature_c),
  supplyV: numberOrNull(body.supply_v),
  check: body.check ?? false,
}));

export const driveStateBody = z
  .object(
    {
      state: z.enum(RUN_STATES, { error: STATE_RULE }).describe('run state'),
      at: timeSchema.optional().describe('when this was observed; absent: the time of arrival'),
      since: timeSchema.optional().describe('when the state was entered'),
      modulating: flagField
        .optional()
        .describe('whether the output switches; absent: it does in starting, running and stopping'),
      speed_rpm: numberField.optional().describe('speed, revolutions per minute'),
      load_pct: numberField.optional().describe('load, percent of rated'),
      switching_khz: numberField.optional().describe('switching frequency, kilohertz'),
      dc_link_v: numberField.optional().describe('voltage of the DC link, volt'),
    },
    { error: OBJECT_RULE },
  )
  .describe('Run state of a drive and its operating condition');

export const driveStateSchema: z.ZodType<DriveStateMessage> = driveStateBody.transform((body) => ({
  state: body.state,
  at: body.at ?? null,
  since: body.since ?? null,
  modulating: body.modulating ?? modulatesIn(body.state),
  speedRpm: numberOrNull(body.speed_rpm),
  loadPct: numberOrNull(body.load_pct),
  switchingKhz: numberOrNull(body.switching_khz),
  dcLinkV: numberOrNull(body.dc_link_v),
}));

export const sensorPresenceBody = z
  .object(
    {
      online: flagField.describe('false also in the will'),
      device: deviceField.optional().describe('serial number of the hardware'),
      firmware: firmwareField.optional().describe('version of its firmware'),
    },
    { error: OBJECT_RULE },
  )
  .describe('Whether a sensor is there');

export const sensorPresenceSchema: z.ZodType<SensorPresenceMessage> = sensorPresenceBody.transform(
  (body) => ({ online: body.online, device: body.device ?? '', firmware: body.firmware ?? '' }),
);

export const drivePresenceBody = z
  .object({ online: flagField.describe('false also in the will') }, { error: OBJECT_RULE })
  .describe('Whether the reporter of a drive is there');

export const drivePresenceSchema: z.ZodType<DrivePresenceMessage> = drivePresenceBody.transform(
  ({ online }) => ({ online }),
);

/** Same answers as `readingSchema`, several times as fast. */
export function readReading(json: unknown): Read<ReadingMessage> {
  if (!isJsonObject(json)) return refuse('message', OBJECT_RULE, json);
  const { device, count, at, seq, boot, up_ms, temperature_c, supply_v, check } = json;
  if (device !== undefined && !isDevice(device)) return refuse('device', DEVICE_RULE, device);
  if (!isCount(count)) return refuse('count', COUNT_RULE, count);
  const atMs = at === undefined ? null : readTime(at);
  if (atMs === null && at !== undefined) return refuse('at', TIME_RULE, at);
  if (seq !== undefined && !isCount(seq)) return refuse('seq', COUNT_RULE, seq);
  if (boot !== undefined && !isCount(boot)) return refuse('boot', COUNT_RULE, boot);
  if (up_ms !== undefined && !isCount(up_ms)) return refuse('up_ms', COUNT_RULE, up_ms);
  if (temperature_c !== undefined && !isNumber(temperature_c)) {
    return refuse('temperature_c', NUMBER_RULE, temperature_c);
  }
  if (supply_v !== undefined && !isNumber(supply_v)) return refuse('supply_v', NUMBER_RULE, supply_v);
  if (check !== undefined && typeof check !== 'boolean') return refuse('check', FLAG_RULE, check);
  const value: ReadingMessage = {
    device: device ?? '',
    count: count + 0,
    at: atMs,
    seq: numberOrNull(seq),
    boot: numberOrNull(boot),
    upMs: numberOrNull(up_ms),
    temperatureC: numberOrNull(temperature_c),
    supplyV: numberOrNull(supply_v),
    check: check ?? false,
  };
  return { ok: true, value };
}

/** Same answers as `driveStateSchema`, several times as fast. */
export function readDriveState(json: unknown): Read<DriveStateMessage> {
  if (!isJsonObject(json)) return refuse('message', OBJECT_RULE, json);
  const { state, at, since, modulating, speed_rpm, load_pct, switching_khz, dc_link_v } = json;
  if (!isRunState(state)) return refuse('state', STATE_RULE, state);
  const atMs = at === undefined ? null : readTime(at);
  if (atMs === null && at !== undefined) return refuse('at', TIME_RULE, at);
  const sinceMs = since === undefined ? null : readTime(since);
  if (sinceMs === null && since !== undefined) return refuse('since', TIME_RULE, since);
  if (modulating !== undefined && typeof modulating !== 'boolean') {
    return refuse('modulating', FLAG_RULE, modulating);
  }
  if (speed_rpm !== undefined && !isNumber(speed_rpm)) return refuse('speed_rpm', NUMBER_RULE, speed_rpm);
  if (load_pct !== undefined && !isNumber(load_pct)) return refuse('load_pct', NUMBER_RULE, load_pct);
  if (switching_khz !== undefined && !isNumber(switching_khz)) {
    return refuse('switching_khz', NUMBER_RULE, switching_khz);
  }
  if (dc_link_v !== undefined && !isNumber(dc_link_v)) return refuse('dc_link_v', NUMBER_RULE, dc_link_v);
  const value: DriveStateMessage = {
    state,
    at: atMs,
    since: sinceMs,
    modulating: modulating ?? modulatesIn(state),
    speedRpm: numberOrNull(speed_rpm),
    loadPct: numberOrNull(load_pct),
    switchingKhz: numberOrNull(switching_khz),
    dcLinkV: numberOrNull(dc_link_v),
  };
  return { ok: true, value };
}

export function readSensorPresence(json: unknown): Read<SensorPresenceMessage> {
  return readBySchema(sensorPresenceSchema, json);
}

export function readDrivePresence(json: unknown): Read<DrivePresenceMessage> {
  return readBySchema(drivePresenceSchema, json);
}

const RUN_STATE_NAMES: ReadonlySet<unknown> = new Set(RUN_STATES);

function isRunState(found: unknown): found is RunStateName {
  return RUN_STATE_NAMES.has(found);
}
