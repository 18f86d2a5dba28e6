/**
 * The sweep: as ticks pass, base windows of a sensor become final, in order. Each increment gets its class, the window
 * its sums, the zone its bursts, the rollups their due, and the alarms their minute.
 */
import { forgottenTo, setAside } from './backlog.js';
import { binOf } from './bin.js';
import type { GroupState } from './bin-group.js';
import { MIXED_BIN } from './bin-name.js';
import { addRowToBins, joinBins, runningCells } from './bin-sums.js';
import { reachesOpenHour } from './checkpoint.js';
import { isCommon } from './common.js';
import { evaluateRateAlarms } from './condition.js';
import { evaluateExcess } from './deviation/excess.js';
import { closeWatchHour } from './deviation/watch.js';
import { classify, mayBeCommon, type Surroundings } from './gate.js';
import { learnFrom } from './group-learning.js';
import { MINUTES_SLACK } from './kept-minutes.js';
import { closeHour } from './notice.js';
import { WINDOW_MS } from './ring.js';
import type { Increment, WindowIssued } from './rows.js';
import { settledUntil, type Timeline } from './run-state.js';
import { applyDispersion, closeSpread, refreshDispersion } from './spread.js';
import { floorTo, putRow, touch, touchHours, type CoreState, type SensorState } from './state.js';
import { addBurst, closeVote, voteOn } from './vote.js';
import { addRow, foldMinute, newWindow, openPeriods, windowOf } from './window.js';
import { Class, PERIOD_MS, Reason } from './words.js';

/** Share of time that dead time may eat before a count is no measure any more. */
const SATURATED = 0.5;
const NOTHING_COUPLED: readonly Timeline[] = [];

/** Timelines that judge a sensor's increments, as they stand in memory. */
function surroundingsOf(sensor: SensorState): Surroundings {
  const coupled =
    sensor.coupled.length === 0 ? NOTHING_COUPLED : sensor.coupled.map((motor) => motor.timeline);
  return { own: sensor.motor.timeline, coupled, checks: sensor.checks };
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
  // the usual case makes no list of what it takes out
  if (done === 1) pending.shift();
  else if (done > 0) pending.splice(0, done);
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
  const { zone } = sensor;
  const around = surroundingsOf(sensor);
  const issued = newWindow(sensor.key, window);
  const { group } = sensor.motor;
  let windowBin = '';
  let common = false;
  let pulses = 0;
  let ms = 0;
  for (let i = from; i < to; i++) {
    const row = sensor.pending[i]!;
    const found = classify(sensor.plan, state.plan.gate, around, row);
    row.class = found.class;
    row.reason = found.reason;
    if (found.class === Class.running) {
      if (group !== null) windowBin = takeBin(sensor, group, row, ms === 0 ? null : windowBin);
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
    addRow(issued, row, 1);
    addRow(sensor.minute.sums, row, 1);
    if (group !== null) postBin(sensor, issued, row);
    putRow(state, row);
  }
  sensor.ring.set(window / WINDOW_MS, pulses, ms, common, windowBin);
  if (group !== null && ms > 0) enterBin(sensor, windowBin);
  if (voteOn(state, sensor, zone, window, ms)) {
    for (let i = from; i < to; i++) {
      const row = sensor.pending[i]!;
      if (classify(sensor.plan, state.plan.gate, around, row).class === Class.running)
        addBurst(state, sensor, zone, window, row);
    }
  }
  issueWindow(state, sensor, issued);
}

/** Finds the bin of a running row; answers with that of its window so far. */
function takeBin(sensor: SensorState, group: GroupState, row: Increment, before: string | null): string {
  const { drives, timeline } = sensor.motor;
  row.bin = binOf(group.grid, { drives, stretches: timeline.stretches }, row);
  sensor.temperature = row.temperature;
  return before === null ? row.bin : joinBins(before, row.bin);
}

/** A row that has its final class counts in its bin, if it runs. */
function postBin(sensor: SensorState, issued: WindowIssued, row: Increment): void {
  if (row.class !== Class.running) row.bin = '';
  addRowToBins(issued.bins, row, 1);
  addRowToBins(sensor.minute.bins, row, 1);
}

/** The sensor's dispersion is that of the bin it runs in. */
export function enterBin(sensor: SensorState, bin: string): void {
  if (bin === MIXED_BIN || bin === sensor.bin) return;
  sensor.bin = bin;
  applyDispersion(sensor);
}

function leaveUnsettled(state: CoreState, sensor: SensorState, row: Increment): void {
  row.class = Class.unattributed;
  row.reason = Reason.notSettled;
  if (sensor.unsettledFrom !== null && row.to >= sensor.unsettledFrom) return;
  sensor.unsettledFrom = row.to;
  touch(state, sensor);
}

function issueWindow(state: CoreState, sensor: SensorState, window: WindowIssued): void {
  state.out.windows.push(window);
  tellWindow(state, sensor, window);
  const { deadTimeS } = sensor.plan;
  if (deadTimeS === 0) return;
  const busy = (window.pulses[Class.running]! * deadTimeS * 1000) / Math.max(1, window.ms[Class.running]!);
  if (busy <= SATURATED) return;
  sensor.saturatedAt = state.now;
  touch(state, sensor);
}

/** The window is told as the sensor's rate at the end of the step. */
export function tellWindow(state: CoreState, sensor: SensorState, window: WindowIssued): void {
  sensor.told = window;
  sensor.toldTo = window.start;
  state.touched.add(sensor);
}

/** Closes the periods that end before `window`; a minute with running exposure is evaluated. */
export function closePeriods(state: CoreState, sensor: SensorState, window: number): void {
  const minute = sensor.minute;
  if (floorTo(window, PERIOD_MS['1m']) <= minute.start) return;
  const ms = minute.sums.ms[Class.running]!;
  const closed = minute.start;
  if (ms > 0) {
    const bins = minute.bins.map((sum) => ({ ...sum }));
    sensor.minutes.push({ start: closed, pulses: minute.sums.pulses[Class.running]!, ms, bins });
  }
  sensor.closed = null;
  foldMinute(sensor);
  const hour = sensor.hour.start;
  const hourEnds = floorTo(window, PERIOD_MS['1h']) > hour;
  const tenEnds = floorTo(window, PERIOD_MS['10m']) > sensor.tenMinutes.start;
  if (tenEnds) learnFrom(state, sensor, sensor.tenMinutes.start, sensor.tenMinutes.sums.ms[Class.running]!);
  const { sums: hourSums, bins: hourBins } = sensor.hour;
  if (hourEnds) closeHour(state, sensor, hour, hourSums.ms);
  openPeriods(state, sensor, window);
  if (hourEnds) {
    closeSpread(state, sensor, hour);
    closeWatchHour(state, sensor, hour, hourSums, runningCells(hourSums, hourBins));
  }
  if (hourEnds || (tenEnds && sensor.spreads.length === 0)) {
    refreshDispersion(sensor, hourEnds ? null : hour);
    touchHours(state, sensor);
  }
  if (ms > 0) evaluateMinute(state, sensor);
  sensor.isLong = !reachesOpenHour(sensor);
  touch(state, sensor);
}

/** A minute with running exposure closed, the newest: what looks at minutes looks at it. */
export function evaluateMinute(state: CoreState, sensor: SensorState): void {
  evaluateRateAlarms(state, sensor);
  evaluateExcess(state, sensor);
  trimMinutes(sensor);
}

function trimMinutes({ minutes, minutesKept }: SensorState): void {
  if (minutes.length > minutesKept + MINUTES_SLACK) minutes.splice(0, minutes.length - minutesKept);
}
