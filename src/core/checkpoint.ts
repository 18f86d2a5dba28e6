/**
 * Checkpoints: what of the state has no rows of its own. How far a sensor is swept and what waits for another look is one
 * small record, the hours behind it another, so that neither is written when only the other changed. A record names what
 * rows cannot tell: how far the sweep came since it was written is seen from the rows that are classified.
 */
import { WINDOW_MS } from './ring.js';
import type { BinSum, CheckpointRow, Increment, Sums } from './rows.js';
import type { UnreadHour } from './deviation/watch-state.js';
import { groupRecord, type GroupState } from './bin-group.js';
import type { ClockWatch } from './clock-watch.js';
import type { BinDispersion } from './spread.js';
import type { MotorState, SensorState } from './state.js';
import { windowOf } from './window.js';
import { Class } from './words.js';

/** Version of the records below; a store with another one is migrated or refused by the shell. */
export const CHECKPOINT_VERSION = 2;
/** How far back rows are wanted at start, behind each sensor's newest. */
export const RESTORE_REACH_MS = 2.5 * 3_600_000;
/** The rows given at start reach back to the open hour while the newest reading lies less than this behind its start. */
export const OPEN_REACH_MS = RESTORE_REACH_MS - 900_000;

/** Times in ms. What is absent is null, or empty. */
export interface SensorRecord {
  sweptTo: number;
  minute: number;
  evaluatedTo: number;
  /** of the open stretch of votes; every window swept since the record was written has lengthened it */
  vote?: [from: number, to: number];
  dirty?: { from: number; to: number };
  unsettledFrom?: number;
  upAnchors?: [chain: number, anchor: number][];
  /** absent: not known, in records of before */
  lastReceivedAt?: number;
  downtimeMs?: number;
  /** absent: never */
  unknownAt?: number;
  rejectedAt?: number;
  saturatedAt?: number;
  /** sums of the open minute, ten minutes and hour; absent while the rows given at start reach back to them */
  open?: [Sums, Sums, Sums];
  /** beside them, their condition bins */
  openBins?: [BinSum[], BinSum[], BinSum[]];
}

/** What changes by the hour, and with the device's clock. */
export interface HoursRecord {
  day: { start: number; ms: number[] };
  dispersion: number;
  dispersionUncertain: boolean;
  clock: ClockWatch;
  /** dispersion by condition bin; absent without bins */
  bins?: [bin: string, found: BinDispersion][];
  /** closed hours that its watch has not taken in; absent: none */
  unread?: UnreadHour[];
}

export interface MotorRecord {
  issuedTo: number;
  dirty: { from: number; to: number } | null;
}

/**
 * Whether the rows given at start will reach back to the open hour. They do not in a long backlog: its newest reading may be
 * in the store long before its first windows are swept.
 */
export function reachesOpenHour(sensor: SensorState): boolean {
  const oldest = sensor.hour.start + OPEN_REACH_MS;
  const { chains } = sensor;
  for (let i = 0; i < chains.length; i++) {
    const { rows } = chains[i]!;
    const newest = rows[rows.length - 1];
    if (newest !== undefined && newest.to >= oldest) return false;
  }
  return true;
}

function checkpointRow(key: string, json: string): CheckpointRow {
  return { key, version: CHECKPOINT_VERSION, json };
}

function arrivalOf(sensor: SensorState): string {
  const { lastReceivedAt, downtimeMs, unknownAt, rejectedAt, saturatedAt } = sensor;
  let json = `,"lastReceivedAt":${lastReceivedAt}`;
  if (downtimeMs > 0) json += `,"downtimeMs":${downtimeMs}`;
  if (unknownAt > 0) json += `,"unknownAt":${unknownAt}`;
  if (rejectedAt > 0) json += `,"rejectedAt":${rejectedAt}`;
  if (saturatedAt > 0) json += `,"saturatedAt":${saturatedAt}`;
  return json;
}

/** A `SensorRecord` as JSON. Put together by hand: it is written once a minute for every sensor. */
export function sensorRow(sensor: SensorState): CheckpointRow {
  const { vote, dirty, unsettledFrom } = sensor;
  let json = `{"sweptTo":${sensor.sweptTo},"minute":${sensor.minute.start},"evaluatedTo":${sensor.evaluatedTo}`;
  if (vote !== null) json += `,"vote":[${vote.from},${vote.to}]`;
  if (dirty !== null) json += `,"dirty":{"from":${dirty.from},"to":${dirty.to}}`;
  if (unsettledFrom !== null) json += `,"unsettledFrom":${unsettledFrom}`;
  json += arrivalOf(sensor);
  const anchors = sensor.chains.filter((chain) => chain.upAnchor !== null);
  if (anchors.length > 0)
    json += `,"upAnchors":${JSON.stringify(anchors.map((chain) => [chain.id, chain.upAnchor]))}`;
  if (!reachesOpenHour(sensor)) {
    const open = [sensor.minute.sums, sensor.tenMinutes.sums, sensor.hour.sums];
    json += `,"open":${JSON.stringify(open)}`;
    const bins = [sensor.minute.bins, sensor.tenMinutes.bins, sensor.hour.bins];
    if (bins.some((open) => open.length > 0)) json += `,"openBins":${JSON.stringify(bins)}`;
  }
  return checkpointRow(sensor.recordKey, `${json}}`);
}

export function hoursRow(sensor: SensorState): CheckpointRow {
  const { key, day, dispersion, dispersionUncertain, clock, binDispersions } = sensor;
  const record: HoursRecord = { day, dispersion, dispersionUncertain, clock };
  if (binDispersions.size > 0) record.bins = [...binDispersions];
  if (sensor.watch.unread.length > 0) record.unread = sensor.watch.unread;
  return checkpointRow(`hours:${key}`, JSON.stringify(record));
}

export function motorRow(motor: MotorState): CheckpointRow {
  const { issuedTo, transientDirty: dirty } = motor;
  const record: MotorRecord = { issuedTo, dirty: dirty === null ? null : { from: dirty.from, to: dirty.to } };
  return checkpointRow(`motor:${motor.key}`, JSON.stringify(record));
}

export function groupRow(group: GroupState): CheckpointRow {
  return checkpointRow(`group:${group.plan.key}`, JSON.stringify(groupRecord(group)));
}

export function coreRow(now: number, nextChain: number): CheckpointRow {
  return checkpointRow('core', `{"now":${now},"nextChain":${nextChain}}`);
}

/** Start of the newest base window that the sweep had classified when these rows (by time) were stored; −Infinity: none. */
export function newestSwept(rows: readonly Increment[]): number {
  for (let i = rows.length - 1; i >= 0; i--) {
    const row = rows[i]!;
    if (row.class !== Class.none && row.class !== Class.pending) return windowOf(row);
  }
  return -Infinity;
}

/** How far the sweep had come: as the record says, or as far as the rows (by time) show that it came since. */
export function sweptSince(record: SensorRecord, rows: readonly Increment[]): number {
  return Math.max(record.sweptTo, newestSwept(rows) + WINDOW_MS);
}
