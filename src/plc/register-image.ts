/** The registers as they read now, all of them at once, so that one answer never mixes two moments. Pure. */
import { summariseAlarms, type AlarmSummary } from './alarm-rank.js';
import { FEED_LOST_MS } from './plant.js';
import type { Picture } from './picture.js';
import {
  HEADER_FIELDS,
  MOTOR_FIELDS,
  numberOrder,
  STATUS_NUMBERS,
  type Field,
  type HeaderView,
} from './register-fields.js';
import type { RegisterMap } from './register-map.js';
import { SENSOR_FIELDS } from './sensor-fields.js';
import { writeBits, writeU16, writeU32, type WordOrder } from './word-order.js';

export interface ServerTimes {
  /** since this process began, ms */
  readonly upMs: number;
  /** seconds for which the gateway has fed this server; it counts on only while it does */
  readonly beats: number;
}

/** Big-endian registers, two bytes each. What stands nowhere in the map reads as unknown. */
export function drawRegisters(
  map: RegisterMap,
  picture: Picture,
  order: WordOrder,
  times: ServerTimes,
  now: number,
): Buffer {
  const image = Buffer.alloc(2 * map.length, 0xff);
  const isFed = picture.isFed(now);
  const summaries: AlarmSummary[] = [];
  for (const { motor, address, sensors } of map.blocks) {
    const alarms = isFed ? picture.alarmsOfMotor(motor.key) : null;
    const summary = alarms === null ? null : summariseAlarms(alarms);
    if (summary !== null) summaries.push(summary);
    const drive = picture.viewDrive(motor, now);
    drawFields(image, MOTOR_FIELDS, address, { drive, now, alarms, summary }, order);
    for (const one of sensors) {
      const own = isFed ? picture.alarmsOfSensor(one.sensor.key) : null;
      const view = picture.viewSensor(one.sensor, now);
      const shown = { view, now, alarms: own, summary: own === null ? null : summariseAlarms(own) };
      drawFields(image, SENSOR_FIELDS, one.address, shown, order);
    }
  }
  drawFields(image, HEADER_FIELDS, 0, viewHeader(map, picture, order, times, now, summaries), order);
  return image;
}

function drawFields<View>(
  image: Buffer,
  fields: readonly Field<View>[],
  start: number,
  view: View,
  order: WordOrder,
): void {
  for (const { offset, type, scale, isBits, read } of fields) {
    const value = read(view);
    const at = start + offset;
    if (type === 'uint16') {
      if (isBits === true) image.writeUInt16BE((value ?? 0) & 0xffff, 2 * at);
      else writeU16(image, at, value === null ? null : value * scale);
    } else if (isBits === true) writeBits(image, at, value ?? 0, order);
    else writeU32(image, at, value === null ? null : value * scale, order);
  }
}

function viewHeader(
  map: RegisterMap,
  picture: Picture,
  order: WordOrder,
  times: ServerTimes,
  now: number,
  summaries: readonly AlarmSummary[],
): HeaderView {
  const isFed = picture.isFed(now);
  const sum = (count: (summary: AlarmSummary) => number): number | null =>
    isFed ? summaries.reduce((total, one) => total + count(one), 0) : null;
  return {
    wordOrder: numberOrder(order),
    heartbeat: times.beats % 65_536,
    status: judgeStatus(picture, now),
    uptimeS: Math.floor(times.upMs / 1000),
    timeS: Math.floor(now / 1000),
    motors: map.blocks.length,
    sensors: map.blocks.reduce((total, { sensors }) => total + sensors.length, 0),
    activeAlarms: sum(({ active }) => active),
    unacknowledgedAlarms: sum(({ unacknowledged }) => unacknowledged),
    revisionBits: parseInt(picture.feed.revision.slice(0, 8), 16) || 0,
    mapBits: map.fingerprint,
  };
}

function judgeStatus(picture: Picture, now: number): number {
  const { beatAt, isReady, isLoaded } = picture.feed;
  if (beatAt === null || !isLoaded || now - beatAt > FEED_LOST_MS) return STATUS_NUMBERS.noFeed;
  return isReady ? STATUS_NUMBERS.ok : STATUS_NUMBERS.notReady;
}
