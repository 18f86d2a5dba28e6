/**
 * Opening the state from what the store kept. Rows, segments, drive messages, bursts, votes, spreads and alarms have
 * tables of their own; what has none comes from the records of checkpoint.ts.
 */
import { ALARMING_KEY, parseAlarming, sortAlarms } from './alarming.js';
import { setAside } from './backlog.js';
import { restoreGroup, type GroupRecord } from './bin-group.js';
import { MIXED_BIN } from './bin-name.js';
import { addRowToBins, joinBins } from './bin-sums.js';
import {
  newestSwept,
  reachesOpenHour,
  RESTORE_REACH_MS,
  sweptSince,
  type HoursRecord,
  type MotorRecord,
  type SensorRecord,
} from './checkpoint.js';
import { restoreCompany } from './deviation/company.js';
import { parseWatch, type UnreadHour } from './deviation/watch-state.js';
import { rebuildTimeline } from './drive.js';
import { restoreChecks } from './function-check.js';
import { openMaintenance } from './maintenance.js';
import { newState } from './new-state.js';
import type { Restored } from './needs.js';
import { trimChain } from './order.js';
import { placeAt } from './place.js';
import type { Plan } from './plan.js';
import { restoreMinutes } from './restore-minutes.js';
import { HOUR_WINDOWS, WINDOW_MS } from './ring.js';
import { applyDispersion } from './spread.js';
import type { Increment } from './rows.js';
import {
  floorTo,
  markUnjudged,
  type ChainState,
  type CoreState,
  type MotorState,
  type SensorState,
} from './state.js';
import type { OpenPeriod } from './periods.js';
import { voteSlack } from './vote.js';
import { addRow, windowOf } from './window.js';
import { Class, PERIOD_MS } from './words.js';

/** Takes up from what the store kept. Sensors and motors that the plan no longer knows stay in the store. */
export function restoreState(plan: Plan, restored: Restored): CoreState {
  const state = newState(plan);
  const records = new Map(restored.checkpoints.map((row) => [row.key, row]));
  const core = records.get('core');
  if (core !== undefined) {
    const { now, nextChain } = JSON.parse(core.json) as { now: number; nextChain: number };
    state.now = now;
    state.nextChain = nextChain;
    state.isResuming = now > 0;
  }
  for (const motor of state.motors.values())
    restoreMotor(state, motor, restored, records.get(`motor:${motor.key}`)?.json);
  for (const group of state.groups.values()) {
    const record = parse<GroupRecord>(records.get(`group:${group.plan.key}`)?.json);
    if (record !== null) restoreGroup(group, record);
  }
  for (const zone of state.zones.values()) {
    zone.bursts = restored.bursts.filter((burst) => burst.zone === zone.key);
    zone.votes = restored.votes.filter((vote) => vote.zone === zone.key);
  }
  for (const sensor of state.sensors.values()) {
    const record = parse<SensorRecord>(records.get(sensor.recordKey)?.json);
    const hours = parse<HoursRecord>(records.get(`hours:${sensor.key}`)?.json);
    const watch = records.get(`watch:${sensor.key}`);
    if (watch !== undefined) sensor.watch = parseWatch(watch.json);
    if (sensor.watch.late.length > 0) state.unread.add(sensor);
    restoreChecks(sensor, records);
    restoreSensor(state, sensor, restored, record, hours);
  }
  restoreCompany(state, records.get('company')?.json);
  state.alarming = parseAlarming(records.get(ALARMING_KEY)?.json);
  for (const alarm of restored.alarms) state.alarms.set(alarm.id, alarm);
  sortAlarms(state.alarming, restored.alarms);
  state.alarming.sortedAlarms = 0;
  state.maintenance = openMaintenance(restored.actions, restored.findings);
  for (const condition of state.conditions) condition.record = state.alarms.get(condition.plan.id) ?? null;
  return state;
}

function restoreMotor(
  state: CoreState,
  motor: MotorState,
  restored: Restored,
  json: string | undefined,
): void {
  motor.drives = restored.drives.get(motor.key) ?? [];
  motor.presences = restored.presences.get(motor.key) ?? [];
  const first = motor.drives[0];
  if (first !== undefined) motor.knownFrom = first.at + 1;
  if (motor.group !== null) motor.binsFrom = binsKnownFrom(motor);
  motor.timeline = rebuildTimeline(state, motor);
  if (json === undefined) return;
  const record = JSON.parse(json) as MotorRecord;
  motor.issuedTo = record.issuedTo;
  if (record.dirty !== null) motor.transientDirty = { ...record.dirty, dueAt: state.now };
}

/**
 * The messages given reach back from the newest of all, to the last before that reach and as far behind it as bins look:
 * from that one on bins can be told.
 */
function binsKnownFrom({ drives, presences, binsFrom }: MotorState): number {
  const newest = Math.max(drives[drives.length - 1]?.at ?? 0, presences[presences.length - 1]?.at ?? 0);
  const before = placeAt(drives, newest - RESTORE_REACH_MS) - 1;
  return drives[before]?.at ?? binsFrom;
}

function parse<T>(json: string | undefined): T | null {
  return json === undefined ? null : (JSON.parse(json) as T);
}

function restoreSensor(
  state: CoreState,
  sensor: SensorState,
  restored: Restored,
  record: SensorRecord | null,
  hours: HoursRecord | null,
): void {
  const rows = restored.increments.get(sensor.key) ?? [];
  if (record !== null) {
    sensor.sweptTo = sweptSince(record, rows);
    sensor.minute.start = record.minute;
    sensor.tenMinutes.start = floorTo(record.minute, PERIOD_MS['10m']);
    sensor.hour.start = floorTo(record.minute, PERIOD_MS['1h']);
    sensor.evaluatedTo = record.evaluatedTo;
    sensor.unsettledFrom = record.unsettledFrom ?? null;
  }
  if (hours !== null) {
    sensor.day = hours.day;
    sensor.dispersion = hours.dispersion;
    sensor.dispersionUncertain = hours.dispersionUncertain;
    sensor.clock = hours.clock;
    sensor.binDispersions = new Map(hours.bins);
    restoreUnread(state, sensor, hours.unread ?? []);
  }
  restoreChains(sensor, restored, rows, record);
  sensor.isLong = !reachesOpenHour(sensor);
  restoreRows(state, sensor, rows);
  if (record !== null) sensor.minutes = restoreMinutes(sensor, restored, rows);
  if (record?.open !== undefined) {
    [sensor.minute.sums, sensor.tenMinutes.sums, sensor.hour.sums] = record.open;
    [sensor.minute.bins, sensor.tenMinutes.bins, sensor.hour.bins] = record.openBins ?? [[], [], []];
  }
  sensor.spreads = restored.spreads.filter((spread) => spread.sensor === sensor.key);
  restoreBin(sensor, rows);
  if (record?.dirty !== undefined) markUnjudged(state, sensor, record.dirty.from, record.dirty.to);
  if (record?.vote !== undefined) restoreVote(sensor, record, record.vote, rows);
  setBacklogAside(state, sensor, rows);
  for (const chain of sensor.chains) trimChain(chain);
  restoreArrival(sensor, record, rows, state.now);
}

/** When it was heard last, and when its condition alarms saw something. A record of before does not tell: just now. */
function restoreArrival(
  sensor: SensorState,
  record: SensorRecord | null,
  rows: readonly Increment[],
  now: number,
): void {
  if (record === null) return;
  const heardAt = record.lastReceivedAt ?? now;
  const newest = Math.min(rows[rows.length - 1]?.to ?? 0, now);
  sensor.lastReceivedAt = Math.max(heardAt, newest);
  sensor.downtimeMs = newest > heardAt ? 0 : (record.downtimeMs ?? 0);
  sensor.unknownAt = record.unknownAt ?? 0;
  sensor.rejectedAt = record.rejectedAt ?? 0;
  sensor.saturatedAt = record.saturatedAt ?? 0;
}

function restoreUnread(state: CoreState, sensor: SensorState, unread: readonly UnreadHour[]): void {
  sensor.watch.unread = unread.filter(({ hour }) => hour >= sensor.watch.readTo);
  if (sensor.watch.unread.length > 0) state.unread.add(sensor);
}

/** A backlog that waited to be swept reaches behind the rows given, or behind the hour that predicts its first windows. */
function setBacklogAside(state: CoreState, sensor: SensorState, rows: readonly Increment[]): void {
  const newest = rows[rows.length - 1];
  if (newest === undefined) return;
  const hour = (HOUR_WINDOWS + 2 * sensor.ring.gapWindows + 16) * WINDOW_MS;
  setAside(state, sensor, floorTo(newest.to - RESTORE_REACH_MS + hour, WINDOW_MS));
}

/** Every window swept since the record was written has lengthened the stretch: one that does not is recorded at once. */
function restoreVote(
  sensor: SensorState,
  record: SensorRecord,
  [from, heldTo]: [from: number, to: number],
  rows: readonly Increment[],
): void {
  const { zone } = sensor;
  const newest = newestSwept(rows);
  const to = newest >= record.sweptTo ? Math.max(heldTo, newest + voteSlack(sensor)) : heldTo;
  const open = { zone: zone.key, motor: sensor.motor.key, sensor: sensor.key, from, to };
  zone.votes = zone.votes.filter((v) => v.sensor !== sensor.key || v.from !== from);
  zone.votes.push(open);
  sensor.vote = open;
}

function restoreChains(
  sensor: SensorState,
  restored: Restored,
  rows: readonly Increment[],
  record: SensorRecord | null,
): void {
  const anchors = new Map(record?.upAnchors ?? []);
  for (const { id, sensor: key, device, boot } of restored.chains) {
    if (key !== sensor.key) continue;
    const segments = restored.segments
      .filter((s) => s.chain === id)
      .sort((a, b) =>
        boot === null
          ? a.startTo - b.startTo || a.startSeq - b.startSeq
          : a.startSeq - b.startSeq || a.startTo - b.startTo,
      );
    if (segments.length === 0) continue;
    const bySeq = boot !== null && segments[0]!.startSeq >= 0;
    const own = rows.filter((row) => row.chain === id);
    own.sort((a, b) => (bySeq ? a.seq! - b.seq! : a.to - b.to || (a.seq ?? -1) - (b.seq ?? -1)));
    const first = own[0];
    const startsChain =
      first !== undefined && first.to === segments[0]!.startTo && (first.seq ?? -1) === segments[0]!.startSeq;
    const chain: ChainState = {
      id,
      device,
      boot,
      bySeq,
      rows: own,
      startsChain,
      endsChain: true,
      segments,
      upAnchor: anchors.get(id) ?? null,
      waiting: [],
    };
    sensor.chains.push(chain);
  }
  const last = (chain: ChainState): number => Math.max(...chain.segments.map((s) => s.lastTo));
  for (const chain of sensor.chains)
    if (sensor.current === null || last(chain) > last(sensor.current)) sensor.current = chain;
}

/** Pending rows, the ring and the open periods come from the rows themselves. */
function restoreRows(state: CoreState, sensor: SensorState, rows: readonly Increment[]): void {
  const windows = new Map<number, { pulses: number; ms: number; common: boolean; bin: string }>();
  for (const row of rows) {
    if (row.class === Class.none) continue;
    const window = windowOf(row);
    if (row.class === Class.pending) {
      if (window >= sensor.sweptTo) sensor.pending.push(row);
      else markUnjudged(state, sensor, window, window + 1);
      continue;
    }
    if (floorTo(window, PERIOD_MS['1m']) === sensor.minute.start) restoreTo(sensor.minute, row);
    else {
      if (floorTo(window, PERIOD_MS['10m']) === sensor.tenMinutes.start) restoreTo(sensor.tenMinutes, row);
      if (floorTo(window, PERIOD_MS['1h']) === sensor.hour.start) restoreTo(sensor.hour, row);
    }
    const entry = windows.get(window) ?? { pulses: 0, ms: 0, common: false, bin: '' };
    if (row.class === Class.common) entry.common = true;
    if (row.class === Class.running) {
      entry.bin = entry.ms === 0 ? row.bin : joinBins(entry.bin, row.bin);
      entry.pulses += row.pulses;
      entry.ms += row.to - row.from;
    }
    windows.set(window, entry);
  }
  const oldest = sensor.sweptTo / WINDOW_MS - HOUR_WINDOWS - 2 * sensor.ring.gapWindows - 16;
  for (const [window, entry] of [...windows].sort((a, b) => a[0] - b[0])) {
    if (window / WINDOW_MS > oldest)
      sensor.ring.set(window / WINDOW_MS, entry.pulses, entry.ms, entry.common, entry.bin);
  }
}

/** What the sweep knew of the condition it ran in last: the dispersion that was written may be that of the bin before. */
function restoreBin(sensor: SensorState, rows: readonly Increment[]): void {
  if (sensor.motor.group === null) return;
  for (const row of rows) {
    if (row.class !== Class.running || windowOf(row) >= sensor.sweptTo) continue;
    sensor.temperature = row.temperature;
    if (row.bin !== MIXED_BIN) sensor.bin = row.bin;
  }
  if (sensor.binDispersions.size > 0) applyDispersion(sensor);
}

function restoreTo(open: OpenPeriod, row: Increment): void {
  addRow(open.sums, row, 1);
  addRowToBins(open.bins, row, 1);
}
