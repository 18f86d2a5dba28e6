/**
 * Another look at the past: a late reading, a late run state or a burst found later changes classes that were given.
 * The sensor's windows are judged anew in order, with the rows and drive messages that the store gives; what comes out
 * differently is taken from its old window and put into the new. It ends where nothing changes any more, so the result
 * is the one that punctual messages would have had.
 */
import { binOf, LOOK_BACK_MS } from './bin.js';
import { MIXED_BIN } from './bin-name.js';
import { joinBins } from './bin-sums.js';
import { isCommon, isQuiet } from './common.js';
import { evaluateLateMinutes } from './late-minutes.js';
import { classify, mayBeCommon } from './gate.js';
import type { Answer } from './needs.js';
import { HOUR_WINDOWS, WINDOW_MS, WindowRing } from './ring.js';
import type { Burst, DriveRow, Increment } from './rows.js';
import { buildTimeline, type Timeline } from './run-state.js';
import { HOUR_MS, recallWindow, refreshDispersion, reviseSpreads, spreadsOfRows } from './spread.js';
import {
  askFor,
  ceilTo,
  floorTo,
  markDirty,
  putRow,
  touch,
  touchHours,
  type CoreState,
  type MotorState,
  type SensorState,
  type ZoneState,
} from './state.js';
import { settledTo, tellWindow } from './sweep.js';
import { markTransients } from './drive.js';
import { copyRing, replaceBursts, replaceVotes, type Look } from './look.js';
import { addRow, newWindow, repost, windowOf } from './window.js';
import { Class, PERIOD_MS, Reason } from './words.js';

/** Longest range judged at one look; what is left waits for the next tick. */
const CHUNK_MS = 6 * 3_600_000;
/** Drive messages are read this far beyond the range. */
const CONTEXT_MS = 1_800_000;

/** Starts a look at a sensor's dirty range. */
export function regate(state: CoreState, sensor: SensorState): void {
  const dirty = sensor.dirty!;
  sensor.dirty = null;
  touch(state, sensor);
  const from = dirty.from;
  const to = Math.min(dirty.to, from + CHUNK_MS);
  if (to < dirty.to) sensor.dirty = { from: to, to: dirty.to, dueAt: state.now };
  const { zone } = sensor;
  const hour = (HOUR_WINDOWS + 2 * zone.gapWindows + 2) * WINDOW_MS;
  const end = Math.min(to + hour, sensor.sweptTo);
  const motors = [sensor.motor.key, ...sensor.plan.coupledMotors];
  askFor(
    state,
    {
      increments: {
        sensor: sensor.key,
        fromTo: floorTo(from - hour, HOUR_MS) + 1,
        toTo: ceilTo(end, HOUR_MS) + 1,
      },
      drives: {
        motors,
        from: from - CONTEXT_MS,
        to: end + CONTEXT_MS,
        lookBackMs: sensor.motor.group === null ? 0 : LOOK_BACK_MS,
      },
      zone: { zone: zone.key, from: from - hour, to: end + hour },
    },
    (answer) => {
      judgeAgain(
        state,
        openLook(state, sensor, zone, answer, { from, to, end: Math.min(end, sensor.sweptTo) }),
      );
    },
  );
}

/** Rows from the store, each replaced by the one in memory where there is one. */
function overlay(sensor: SensorState, loaded: readonly Increment[]): Increment[] {
  const inMemory = new Map<string, Increment>();
  const oldest = loaded[0]?.to ?? 0;
  for (const chain of sensor.chains) {
    for (const row of chain.rows)
      if (row.to >= oldest) inMemory.set(`${row.chain}/${row.to}/${row.seq}`, row);
  }
  return loaded.map((row) => inMemory.get(`${row.chain}/${row.to}/${row.seq}`) ?? row);
}

/** Timeline and messages of a drive, from memory where that reaches back to `from`, else from the store. */
function pastOf(
  state: CoreState,
  motor: MotorState,
  answer: Answer,
  from: number,
): { timeline: Timeline; drives: readonly DriveRow[] } {
  if (motor.knownFrom <= from && motor.binsFrom <= from) return motor;
  const drives = answer.drives.filter((row) => row.motor === motor.key);
  const presences = answer.presences.filter((row) => row.motor === motor.key);
  const { gate, common } = state.plan;
  return { timeline: buildTimeline(motor.plan, gate, common.speedStep, drives, presences), drives };
}

function openLook(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  answer: Answer,
  range: { from: number; to: number; end: number },
): Look {
  const context = range.from - CONTEXT_MS;
  const coupled = sensor.plan.coupledMotors.map(
    (key) => pastOf(state, state.motors.get(key)!, answer, context).timeline,
  );
  const own = pastOf(state, sensor.motor, answer, context);
  const bursts = [...answer.bursts];
  for (const burst of zone.bursts) {
    if (!bursts.some((b) => b.sensor === burst.sensor && b.from === burst.from && b.to === burst.to))
      bursts.push(burst);
  }
  const open = new Map(zone.votes.map((vote) => [`${vote.sensor}/${vote.from}`, vote]));
  return {
    sensor,
    zone,
    ...range,
    rows: overlay(sensor, answer.increments),
    around: { own: own.timeline, coupled, checks: sensor.checks },
    drives: own.drives,
    ring: new WindowRing(zone.gapWindows),
    bursts,
    votes: answer.votes.map((vote) => open.get(`${vote.sensor}/${vote.from}`) ?? vote),
    settled: settledTo(state, sensor),
  };
}

function judgeAgain(state: CoreState, look: Look): void {
  const { sensor, ring, rows } = look;
  const hour = (HOUR_WINDOWS + 2 * look.zone.gapWindows + 2) * WINDOW_MS;
  const voted: number[] = [];
  const found: Burst[] = [];
  const changedHours = new Set<number>();
  let lastChange = look.to;
  let i = 0;
  let stop = look.end;
  while (i < rows.length) {
    const window = windowOf(rows[i]!);
    let next = i + 1;
    while (next < rows.length && windowOf(rows[next]!) === window) next++;
    if (window >= look.end) break;
    if (window > lastChange + hour) {
      stop = window;
      break;
    }
    const group = rows.slice(i, next);
    i = next;
    if (window < look.from) {
      recallWindow(ring, window, group);
      continue;
    }
    if (judgeWindow(state, look, window, group, voted, found)) {
      lastChange = Math.max(lastChange, window);
      changedHours.add(floorTo(window, PERIOD_MS['1h']));
    }
  }
  replaceBursts(state, look, found, stop);
  replaceVotes(state, look, voted, stop);
  const ringChanged = copyRing(look, stop);
  if ((ringChanged || lastChange > look.to) && stop === look.end)
    markDirty(state, sensor, look.end, Math.min(lastChange + hour, sensor.sweptTo));
  // with the dispersion known before them, as punctual readings would be: a step within them would hide itself
  evaluateLateMinutes(state, sensor);
  reviseHours(state, look, changedHours);
  const reach = state.plan.gate.maxIntervalFactor * sensor.plan.intervalMs;
  for (const key of [sensor.motor.key, ...sensor.plan.coupledMotors]) {
    markTransients(state, state.motors.get(key)!, look.from - reach, look.to);
  }
  touch(state, sensor);
}

/** Readings that come late but newest of all are told as the rate, as punctual ones are. */
function tellNewest(
  state: CoreState,
  sensor: SensorState,
  window: number,
  group: readonly Increment[],
): void {
  if (window <= sensor.toldTo) return;
  const found = newWindow(sensor.key, window);
  for (const row of group) addRow(found, row, 1);
  tellWindow(state, sensor, found);
}

/** Bin of a running row; '' where the group has none. */
function binIn({ sensor, around, drives }: Look, row: Increment): string {
  const { group } = sensor.motor;
  return group === null ? '' : binOf(group.grid, { drives, stretches: around.own.stretches }, row);
}

/** One window anew; true when a class changed. */
function judgeWindow(
  state: CoreState,
  look: Look,
  window: number,
  group: readonly Increment[],
  voted: number[],
  found: Burst[],
): boolean {
  const { sensor } = look;
  const plan = state.plan.common;
  const running: Increment[] = [];
  let pulses = 0;
  let ms = 0;
  let common = false;
  let changed = false;
  let windowBin = '';
  for (const row of group) {
    if (row.class === Class.none) continue;
    const verdict = classify(sensor.plan, state.plan.gate, look.around, row);
    let { class: cls, reason } = verdict;
    let bin = '';
    if (verdict.class === Class.running) {
      bin = binIn(look, row);
      windowBin = running.length === 0 ? bin : joinBins(windowBin, bin);
      running.push(row);
      pulses += row.pulses;
      ms += row.to - row.from;
    }
    if (mayBeCommon(verdict)) {
      if (row.to > look.settled && row.reason === Reason.notSettled) {
        cls = row.class;
        reason = row.reason;
      } else if (isCommon(plan, look.bursts, look.votes, sensor.motor.key, row, window)) {
        cls = Class.common;
        reason = Reason.none;
        common = true;
      }
    }
    if (cls !== Class.running) bin = '';
    if (cls === row.class && reason === row.reason && bin === row.bin) continue;
    changed = true;
    repost(state, sensor, row, -1);
    row.class = cls;
    row.reason = reason;
    row.bin = bin;
    repost(state, sensor, row, 1);
    putRow(state, row);
  }
  tellNewest(state, sensor, window, group);
  look.ring.set(window / WINDOW_MS, pulses, ms, common, windowBin);
  voteAgain(state, look, window, running, { voted, found });
  return changed;
}

/** The vote of a window that has its sums, and its bursts. */
function voteAgain(
  state: CoreState,
  look: Look,
  window: number,
  running: readonly Increment[],
  { voted, found }: { voted: number[]; found: Burst[] },
): void {
  const { sensor } = look;
  const plan = state.plan.common;
  const index = window / WINDOW_MS;
  const votes =
    running.length > 0 &&
    look.ring.binAt(index) !== MIXED_BIN &&
    look.ring.countBefore(index) >= plan.windowsMin &&
    isQuiet(look.around.own.changes, window + WINDOW_MS, plan.quietMs);
  if (votes) voted.push(window);
  if (votes && look.ring.isBurst(index, plan.tail)) {
    for (const row of running) {
      found.push({
        zone: look.zone.key,
        motor: sensor.motor.key,
        sensor: sensor.key,
        window,
        from: row.from,
        to: row.to,
      });
    }
  }
}

/** Closed hours in which a class changed give their spread anew, from all rows of the hour as they stand now. */
function reviseHours(state: CoreState, look: Look, hours: ReadonlySet<number>): void {
  const { sensor } = look;
  let revised = false;
  for (const hour of hours) {
    if (hour >= sensor.hour.start) continue;
    reviseSpreads(state, sensor, hour, spreadsOfRows(sensor.key, look.rows, hour));
    revised = true;
  }
  if (!revised) return;
  refreshDispersion(sensor, null);
  touchHours(state, sensor);
}
