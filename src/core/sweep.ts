/**
 * The sweep: as ticks pass, base windows of a sensor become final, in order. Each increment gets its class, the window
 * its sums, the zone its bursts, the rollups their due, and the alarms their minute.
 */
import { forgottenTo, setAside } from './backlog.js';
import { isCommon, isQuiet } from './common.js';
import { evaluateRateAlarms } from './condition.js';
import { classify, mayBeCommon, type Surroundings } from './gate.js';
import { closeHour } from './notice.js';
import { WINDOW_MS } from './ring.js';
import { addRowToBins } from './bin-sums.js';
import type { BinSum, Burst, Increment, Sums } from './rows.js';
import { settledUntil, type Timeline } from './run-state.js';
import { closeSpread, refreshDispersion } from './spread.js';
import {
  floorTo,
  markDirty,
  putRow,
  touch,
  touchHours,
  type CoreState,
  type SensorState,
  type ZoneState,
} from './state.js';
import { addRow, emptySums, openPeriods, postRow, windowOf } from './window.js';
import { Class, PERIOD_MS, Reason } from './words.js';

/** Share of time that dead time may eat before a count is no measure any more. */
const SATURATED = 0.5;
const NOTHING_COUPLED: readonly Timeline[] = [];

/** Timelines that judge a sensor's increments, as they stand in memory. */
function surroundingsOf(sensor: SensorState): Surroundings {
  const coupled =
    sensor.coupled.length === 0 ? NOTHING_COUPLED : sensor.coupled.map((motor) => motor.timeline);
  return { own: sensor.motor.timeline, coupled };
}

export function zoneOf(state: CoreState, sensor: SensorState): ZoneState {
  return state.zones.get(sensor.motor.plan.zone)!;
}

/** How long a pause in a sensor's windows keeps its vote alive. */
export function voteSlack(sensor: SensorState): number {
  return floorTo(3 * sensor.plan.intervalMs, WINDOW_MS) + 2 * WINDOW_MS;
}

/** Increments that end at or before this are settled: no ordinary drive message can still reach back to them. */
export function settledTo(state: CoreState, sensor: SensorState): number {
  const { motor } = sensor;
  let settled = settledUntil(motor.plan, state.plan.gate, motor.drives, state.now) - motor.reachMs;
  for (const other of sensor.coupled) {
    settled = Math.min(
      settled,
      settledUntil(other.plan, state.plan.gate, other.drives, state.now) - other.plan.clockErrorMs,
    );
  }
  return settled;
}

/** Sweeps all windows of a sensor whose wait is over. */
export function sweepSensor(state: CoreState, sensor: SensorState): void {
  const { pending } = sensor;
  if (pending.length > 0) {
    const forgotten = Math.min(
      forgottenTo(state, sensor),
      floorTo(state.now - sensor.sweepDelayMs, WINDOW_MS),
    );
    if (windowOf(pending[0]!) < forgotten) setAside(state, sensor, forgotten);
  }
  const limit = state.now - sensor.sweepDelayMs;
  const settled = settledTo(state, sensor);
  let done = 0;
  while (done < pending.length) {
    const window = windowOf(pending[done]!);
    if (window + WINDOW_MS > limit) break;
    let end = done + 1;
    while (end < pending.length && windowOf(pending[end]!) === window) end++;
    const last = pending[end - 1]!;
    if (last.to > settled && state.now < last.to + state.plan.gate.settleWaitMs) break;
    sweepWindow(state, sensor, window, done, end, settled);
    done = end;
  }
  if (done > 0) pending.splice(0, done);
  const passed =
    pending.length > 0
      ? Math.min(windowOf(pending[0]!), floorTo(limit, WINDOW_MS))
      : floorTo(limit, WINDOW_MS);
  if (passed > sensor.sweptTo) {
    sensor.sweptTo = passed;
    if (
      sensor.hour.start < floorTo(passed, PERIOD_MS['1h']) ||
      sensor.minute.start < floorTo(passed, PERIOD_MS['1m'])
    ) {
      closePeriods(state, sensor, passed);
    }
    if (sensor.vote !== null && passed > sensor.vote.to) closeVote(state, sensor);
    sensor.nextSweepAt = passed + WINDOW_MS + sensor.sweepDelayMs;
  }
}

/** Classifies the pending rows [from, to), which make up one window. */
function sweepWindow(
  state: CoreState,
  sensor: SensorState,
  window: number,
  from: number,
  to: number,
  settled: number,
): void {
  closePeriods(state, sensor, window);
  const zone = zoneOf(state, sensor);
  const around = surroundingsOf(sensor);
  const sums = emptySums();
  const bins: BinSum[] = [];
  let common = false;
  let pulses = 0;
  let ms = 0;
  for (let i = from; i < to; i++) {
    const row = sensor.pending[i]!;
    const found = classify(sensor.plan, state.plan.gate, around, row);
    row.class = found.class;
    row.reason = found.reason;
    if (found.class === Class.running) {
      pulses += row.pulses;
      ms += row.to - row.from;
    }
    if (mayBeCommon(found)) {
      if (row.to > settled) leaveUnsettled(state, sensor, row);
      else if (isCommon(state.plan.common, zone.bursts, zone.votes, sensor.motor.key, row, window)) {
        row.class = Class.common;
        row.reason = Reason.none;
        common = true;
      }
    } else if (found.reason === Reason.unknownRunState && sensor.unsettledFrom === null) {
      sensor.unsettledFrom = row.to;
      touch(state, sensor);
    }
    addRow(sums, row, 1);
    addRowToBins(bins, row, 1);
    postRow(sensor, row);
    putRow(state, row);
  }
  sensor.ring.set(window / WINDOW_MS, pulses, ms, common);
  if (voteOn(state, sensor, zone, window, ms)) {
    for (let i = from; i < to; i++) {
      const row = sensor.pending[i]!;
      if (classify(sensor.plan, state.plan.gate, around, row).class === Class.running)
        addBurst(state, sensor, zone, window, row);
    }
  }
  issueWindow(state, sensor, window, sums, bins);
}

function leaveUnsettled(state: CoreState, sensor: SensorState, row: Increment): void {
  row.class = Class.unattributed;
  row.reason = Reason.notSettled;
  if (sensor.unsettledFrom !== null && row.to >= sensor.unsettledFrom) return;
  sensor.unsettledFrom = row.to;
  touch(state, sensor);
}

/** The sensor's own window against its own last hour: its vote is held; true when the window bursts. */
function voteOn(state: CoreState, sensor: SensorState, zone: ZoneState, window: number, ms: number): boolean {
  const index = window / WINDOW_MS;
  const plan = state.plan.common;
  const votes =
    ms > 0 &&
    sensor.ring.countBefore(index) >= plan.windowsMin &&
    isQuiet(sensor.motor.timeline.changes, window + WINDOW_MS, plan.quietMs);
  holdVote(state, sensor, zone, window, votes);
  return votes && sensor.ring.isBurst(index, plan.tail);
}

/** A stretch that is only lengthened needs no checkpoint: a restart sees it from the rows. */
function holdVote(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  window: number,
  votes: boolean,
): void {
  const slack = voteSlack(sensor);
  const { vote } = sensor;
  if (vote !== null && votes && window <= vote.to) {
    vote.to = window + slack;
    return;
  }
  if (vote !== null) touch(state, sensor);
  if (vote !== null && (votes || window > vote.to)) closeVote(state, sensor);
  if (!votes || sensor.vote !== null) return;
  sensor.vote = {
    zone: zone.key,
    motor: sensor.motor.key,
    sensor: sensor.key,
    from: window,
    to: window + slack,
  };
  zone.votes.push(sensor.vote);
  state.out.votes.push(sensor.vote);
  touch(state, sensor);
}

/** Ends a stretch of votes; its row has its final end from now on. */
export function closeVote(state: CoreState, sensor: SensorState): void {
  if (sensor.vote === null) return;
  state.out.votes.push(sensor.vote);
  sensor.vote = null;
  touch(state, sensor);
}

/** Tells the zone; when that makes a common burst possible, what others have swept already is looked at again. */
function addBurst(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  window: number,
  row: Increment,
): void {
  const burst: Burst = {
    zone: zone.key,
    motor: sensor.motor.key,
    sensor: sensor.key,
    window,
    from: row.from,
    to: row.to,
  };
  zone.bursts.push(burst);
  state.out.bursts.push(burst);
  markCommon(state, zone, burst.from, burst.to);
}

/** Marks swept increments of the zone's sensors in [from, to) when enough motors burst there. */
export function markCommon(state: CoreState, zone: ZoneState, from: number, to: number): void {
  const motors = new Set<string>();
  for (const burst of zone.bursts) if (burst.from < to && burst.to > from) motors.add(burst.motor);
  if (motors.size < state.plan.common.motorsMin) return;
  for (const motor of zone.motors) {
    for (const other of motor.sensors) {
      const reach = state.plan.gate.maxIntervalFactor * other.plan.intervalMs;
      if (other.sweptTo > from) markDirty(state, other, from, to + reach);
    }
  }
}

function issueWindow(
  state: CoreState,
  sensor: SensorState,
  window: number,
  sums: Sums,
  bins: BinSum[],
): void {
  state.out.windows.push({
    sensor: sensor.key,
    start: window,
    pulses: sums.pulses,
    ms: sums.ms,
    uncertainMs: sums.uncertainMs,
    bins,
  });
  sensor.told = { start: window, sums };
  sensor.toldTo = window;
  const busy =
    (sums.pulses[Class.running]! * sensor.plan.deadTimeS * 1000) / Math.max(1, sums.ms[Class.running]!);
  if (busy > SATURATED) sensor.saturatedAt = state.now;
  state.touched.add(sensor);
}

/** Closes the periods that end before `window`; a minute with running exposure is evaluated. */
export function closePeriods(state: CoreState, sensor: SensorState, window: number): void {
  const minute = sensor.minute;
  if (floorTo(window, PERIOD_MS['1m']) <= minute.start) return;
  const ms = minute.sums.ms[Class.running]!;
  const closed = minute.start;
  if (ms > 0) sensor.minutes.push({ start: closed, pulses: minute.sums.pulses[Class.running]!, ms });
  const hour = sensor.hour.start;
  const hourEnds = floorTo(window, PERIOD_MS['1h']) > hour;
  const tenEnds = floorTo(window, PERIOD_MS['10m']) > sensor.tenMinutes.start;
  if (hourEnds) closeHour(state, sensor, hour, sensor.hour.sums.ms);
  openPeriods(state, sensor, window);
  if (hourEnds) closeSpread(state, sensor, hour);
  if (hourEnds || (tenEnds && sensor.spreads.length === 0)) {
    refreshDispersion(sensor, hourEnds ? null : hour);
    touchHours(state, sensor);
  }
  if (ms > 0) {
    evaluateRateAlarms(state, sensor);
    trimMinutes(sensor);
  }
  touch(state, sensor);
}

/** Minutes are kept for two hours of running exposure: the evaluation window and what late data may still revise. */
function trimMinutes(sensor: SensorState): void {
  if (sensor.minutes.length > 180) sensor.minutes.splice(0, sensor.minutes.length - 120);
}
