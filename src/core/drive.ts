/**
 * Drive messages and the presence of their reporters, in their place by event time. A message that changes the past
 * marks the increments it touches for another look.
 */
import { LOOK_BACK_MS } from './bin.js';
import type { DriveFact, DrivePresenceFact } from './facts.js';
import { sayOffset } from './figures.js';
import { placeAt } from './place.js';
import type { DriveRow } from './rows.js';
import { buildTimeline, DRIVES_KEPT_MS, extendTimeline, type Timeline } from './run-state.js';
import { askFor, diagnose, markDirty, touch, type CoreState, type MotorState } from './state.js';

function toDriveRow(state: CoreState, fact: DriveFact): DriveRow {
  const { receivedAt } = fact;
  const believable =
    fact.at !== null &&
    fact.at <= receivedAt + state.plan.futureToleranceMs &&
    fact.at >= receivedAt - state.plan.reviseHorizonMs;
  const at = believable ? fact.at : receivedAt;
  if (!believable && fact.at !== null) {
    diagnose(
      state,
      fact.motor,
      'clock-doubtful',
      receivedAt,
      `the time of the drive's reporter is ${sayOffset(fact.at, receivedAt)}: the time of arrival is taken`,
    );
  }
  return {
    motor: fact.motor,
    at,
    since: fact.since !== null && fact.since <= at ? fact.since : null,
    state: fact.state,
    modulating: fact.modulating,
    speedRpm: fact.speedRpm,
    loadPct: fact.loadPct,
    switchingKhz: fact.switchingKhz,
    dcLinkV: fact.dcLinkV,
    receivedAt,
  };
}

/** Builds a motor's timeline from what is in memory. */
export function rebuildTimeline(state: CoreState, motor: MotorState): Timeline {
  return buildTimeline(
    motor.plan,
    state.plan.gate,
    state.plan.common.speedStep,
    motor.drives,
    motor.presences,
  );
}

/** Its guards may be transients to issue. */
function setTimeline(state: CoreState, motor: MotorState, timeline: Timeline): void {
  motor.timeline = timeline;
  state.mayIssue[motor.index] = 1;
}

function sameEntries<T extends object>(
  a: T | undefined,
  b: T | undefined,
  keys: readonly (keyof T)[],
): boolean {
  if (a === undefined || b === undefined) return false;
  return keys.every((key) => a[key] === b[key]);
}

/** Where two lists of intervals differ, as a range of time; null: nowhere. */
function diffLists<T extends { from: number; to: number }>(
  a: readonly T[],
  b: readonly T[],
  keys: readonly (keyof T)[],
): [number, number] | null {
  let head = 0;
  while (head < a.length && head < b.length && sameEntries(a[head], b[head], keys)) head++;
  if (head === a.length && head === b.length) return null;
  let tail = 0;
  while (
    tail < a.length - head &&
    tail < b.length - head &&
    sameEntries(a[a.length - 1 - tail], b[b.length - 1 - tail], keys)
  )
    tail++;
  const changed = [...a.slice(head, a.length - tail), ...b.slice(head, b.length - tail)];
  return [Math.min(...changed.map((x) => x.from)), Math.max(...changed.map((x) => x.to))];
}

function spanOf(edge: { lo: number; hi: number }): { from: number; to: number } {
  return { from: edge.lo, to: edge.hi };
}

/** Where two timelines judge differently; null: nowhere. A stretch that only ends elsewhere differs from there on. */
export function diffTimelines(a: Timeline, b: Timeline): { from: number; to: number } | null {
  const stretches = diffLists(a.stretches, b.stretches, ['from', 'state', 'modulating']);
  const guards = diffLists(a.guards, b.guards, ['from', 'to', 'edges', 'kind']);
  const switchings = diffLists(a.switchings.map(spanOf), b.switchings.map(spanOf), ['from', 'to']);
  const found = [stretches, guards, switchings].filter((range) => range !== null);
  if (found.length === 0) return null;
  return { from: Math.min(...found.map((r) => r[0])), to: Math.max(...found.map((r) => r[1])) };
}

/** Where a sensor's right to vote on common bursts may differ: from the first to the last change that only one list has. */
function diffChanges(a: readonly number[], b: readonly number[]): { from: number; to: number } | null {
  let head = 0;
  while (head < a.length && head < b.length && a[head] === b[head]) head++;
  if (head === a.length && head === b.length) return null;
  let tail = 0;
  const most = Math.min(a.length, b.length) - head;
  while (tail < most && a[a.length - 1 - tail] === b[b.length - 1 - tail]) tail++;
  const changed = [...a.slice(head, a.length - tail), ...b.slice(head, b.length - tail)];
  return { from: Math.min(...changed), to: Math.max(...changed) };
}

function follow(state: CoreState, motor: MotorState): void {
  const before = motor.timeline;
  setTimeline(state, motor, rebuildTimeline(state, motor));
  const changed = diffTimelines(before, motor.timeline);
  if (changed !== null) {
    markMotor(state, motor, changed.from, Math.min(changed.to, state.now) + motor.tailMs);
    markBins(state, motor, changed.from, changed.to);
  }
  const silent = diffChanges(before.changes, motor.timeline.changes);
  if (silent !== null) {
    for (const sensor of motor.sensors)
      markDirty(state, sensor, silent.from, silent.to + state.plan.common.quietMs);
  }
  settle(state, motor);
}

/** Marks what a change of the drive's past in [from, to] may move to another condition bin: as far as bins look back. */
function markBins(state: CoreState, motor: MotorState, from: number, to: number): void {
  if (motor.group === null) return;
  const next = motor.drives[placeAt(motor.drives, to + LOOK_BACK_MS + 1)];
  const end = Math.min(next?.at ?? state.now, state.now) + motor.tailMs;
  for (const sensor of motor.sensors) if (sensor.sweptTo > from) markDirty(state, sensor, from, end);
}

/**
 * What was left unsettled after the longest wait is looked at again now that the drive has spoken, from the window on that
 * holds the last instant of the first such interval.
 */
function settle(state: CoreState, motor: MotorState): void {
  for (const sensor of [...motor.sensors, ...motor.hearers]) {
    if (sensor.unsettledFrom === null) continue;
    const from = sensor.unsettledFrom;
    sensor.unsettledFrom = null;
    touch(state, sensor);
    markDirty(state, sensor, from - 1, state.now);
  }
}

/** Marks everything that a motor's run state decides in a range of time: its sensors, those that hear it, its transients. */
function markMotor(state: CoreState, motor: MotorState, from: number, to: number): void {
  for (const sensor of [...motor.sensors, ...motor.hearers]) markDirty(state, sensor, from, to);
  if (from < motor.issuedTo) markTransients(state, motor, from, to);
}

export function markTransients(state: CoreState, motor: MotorState, from: number, to: number): void {
  state.touchedMotors.add(motor);
  state.mayIssue[motor.index] = 1;
  const oldest = state.now - state.plan.reviseHorizonMs - 86_400_000;
  const start = Math.max(from, oldest);
  const dirty = motor.transientDirty;
  motor.transientDirty =
    dirty === null
      ? { from: start, to, dueAt: state.now + motor.sweepDelayMs }
      : {
          from: Math.min(dirty.from, start),
          to: Math.max(dirty.to, to),
          dueAt: state.now + motor.sweepDelayMs,
        };
}

/** Takes a drive message. An equal `at` is replaced by the later arrival; one older than memory is settled by the store. */
export function addDrive(state: CoreState, motor: MotorState, fact: DriveFact): void {
  const row = toDriveRow(state, fact);
  if (row.at < motor.knownFrom) {
    addLateDrive(state, motor, row);
    return;
  }
  const place = placeAt(motor.drives, row.at);
  const replaces = motor.drives[place]?.at === row.at;
  motor.drives.splice(place, replaces ? 1 : 0, row);
  state.out.drives.push(row);
  const previous = !replaces && place === motor.drives.length - 1 ? motor.drives[place - 1] : undefined;
  if (previous !== undefined && extendTimeline(motor.plan, motor.timeline, previous, row, motor.presences))
    settle(state, motor);
  else follow(state, motor);
  markBins(state, motor, row.at, row.at);
  pruneDrives(state, motor);
}

/** A message from before what is kept in memory: everything from the message before it may change. */
function addLateDrive(state: CoreState, motor: MotorState, row: DriveRow): void {
  state.out.drives.push(row);
  askFor(state, { drives: { motors: [motor.key], from: row.at, to: row.at + 1 } }, (answer) => {
    const before = answer.drives.filter((d) => d.at < row.at).at(-1);
    const start = Math.min(row.since ?? row.at, before?.at ?? row.at);
    const heartbeat = motor.plan.heartbeatMs;
    const held = motor.group === null ? 0 : LOOK_BACK_MS;
    const end = heartbeat === null ? state.now : row.at + 4 * heartbeat + held;
    markMotor(state, motor, start - 60_000, end + state.plan.gate.capMs);
  });
}

export function addPresence(state: CoreState, motor: MotorState, fact: DrivePresenceFact): void {
  const last = motor.presences[motor.presences.length - 1];
  const spoke = motor.drives[motor.drives.length - 1]?.at ?? -Infinity;
  if (last !== undefined) {
    const repeats = last.online === fact.online && (fact.online || spoke < last.at);
    if (repeats || last.at > fact.receivedAt) return;
  }
  if (last === undefined && fact.online) return;
  const row = { motor: motor.key, at: fact.receivedAt, online: fact.online };
  motor.presences.push(row);
  state.out.presences.push(row);
  follow(state, motor);
}

/** Forgets old messages, but never so that a merged guard is cut. */
function pruneDrives(state: CoreState, motor: MotorState): void {
  const { drives } = motor;
  if (drives.length < 32 || drives[0]!.at > state.now - 2 * DRIVES_KEPT_MS) return;
  let cut = placeAt(drives, state.now - DRIVES_KEPT_MS) - 1;
  if (cut < 16) return;
  const time = drives[cut]!.at;
  const guard = motor.timeline.guards.find((g) => g.from - 600_000 < time && g.to + 600_000 > time);
  if (guard !== undefined) cut = placeAt(drives, guard.from - 600_000) - 1;
  if (motor.group !== null) {
    motor.binsFrom = drives[Math.max(0, cut)]!.at;
    cut = placeAt(drives, motor.binsFrom - LOOK_BACK_MS);
  }
  if (cut < 16) return;
  drives.splice(0, cut);
  motor.knownFrom = drives[0]!.at + 1;
  motor.presences = motor.presences.filter((p) => p.at >= drives[0]!.at);
  setTimeline(state, motor, rebuildTimeline(state, motor));
}
