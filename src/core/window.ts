/**
 * Windows and rollups: every classified increment is posted, whole, to the base window that holds `to − 1`, and from
 * there to the minute; a minute that closes goes on into the ten minutes and the hour, whose sums therefore lack the open
 * minute. Open periods gather in memory and are put out when the sweep passes their end; a change to a closed one is put out as a difference, which the store adds with a new revision.
 */
import { ALL_BIN } from './bin-name.js';
import { addRowToBins, addToBins } from './bin-sums.js';
import { noteLate } from './deviation/late-hours.js';
import { reviseWatch } from './deviation/revision.js';
import type { BinSum, Increment, RollupAdd, Sums, WindowIssued } from './rows.js';
import { floorTo, touch, type CoreState, type SensorState } from './state.js';
import type { OpenPeriod } from './periods.js';
import { Class, Flag, PERIOD_MS } from './words.js';

export function emptySums(): Sums {
  return { pulses: [0, 0, 0, 0, 0, 0, 0, 0, 0], ms: [0, 0, 0, 0, 0, 0, 0, 0, 0], uncertainMs: 0 };
}

/** A base window, start in ms, with nothing in it yet. */
export function newWindow(sensor: string, start: number): WindowIssued {
  return {
    sensor,
    start,
    pulses: [0, 0, 0, 0, 0, 0, 0, 0, 0],
    ms: [0, 0, 0, 0, 0, 0, 0, 0, 0],
    uncertainMs: 0,
    bins: [],
  };
}

/** Start of the base window an increment belongs to. */
export function windowOf(row: Increment): number {
  return floorTo(row.to - 1, PERIOD_MS['10s']);
}

/** Exposure of an increment; 0 where time went back. */
export function exposureOf(row: Increment): number {
  return row.to > row.from ? row.to - row.from : 0;
}

export function addRow(sums: Sums, row: Increment, sign: 1 | -1): void {
  const ms = exposureOf(row);
  sums.pulses[row.class]! += sign * row.pulses;
  sums.ms[row.class]! += sign * ms;
  if ((row.flags & Flag.uncertain) !== 0) sums.uncertainMs += sign * ms;
}

export function addSums(into: Sums, from: Sums): void {
  for (let c = Class.rejected; c <= Class.background; c++) {
    into.pulses[c]! += from.pulses[c]!;
    into.ms[c]! += from.ms[c]!;
  }
  into.uncertainMs += from.uncertainMs;
}

export function isEmpty(sums: Sums): boolean {
  for (let c = Class.rejected; c <= Class.background; c++)
    if (sums.pulses[c] !== 0 || sums.ms[c] !== 0) return false;
  return sums.uncertainMs === 0;
}

function putOut(
  state: CoreState,
  sensor: SensorState,
  period: RollupAdd['period'],
  start: number,
  sums: Sums,
  bins: BinSum[],
): void {
  if (isEmpty(sums)) return;
  state.out.rollups.push({
    sensor: sensor.key,
    period,
    start,
    pulses: sums.pulses,
    ms: sums.ms,
    uncertainMs: sums.uncertainMs,
    bins,
  });
}

/** Closes an open period and opens the one that holds `window`, when that lies behind its end. */
function advance(
  state: CoreState,
  sensor: SensorState,
  open: OpenPeriod,
  period: RollupAdd['period'],
  window: number,
): void {
  const start = floorTo(window, PERIOD_MS[period]);
  if (start <= open.start) return;
  putOut(state, sensor, period, open.start, open.sums, open.bins);
  open.start = start;
  open.sums = emptySums();
  open.bins = [];
}

/** Adds the open minute, which ends now, to the ten minutes and the hour that hold it. */
export function foldMinute(sensor: SensorState): void {
  addSums(sensor.tenMinutes.sums, sensor.minute.sums);
  addSums(sensor.hour.sums, sensor.minute.sums);
  for (const { bin, pulses, ms } of sensor.minute.bins) {
    addToBins(sensor.tenMinutes.bins, bin, pulses, ms);
    addToBins(sensor.hour.bins, bin, pulses, ms);
  }
}

/** Moves the open periods on so that they hold `window` (ms). A minute that closes must be folded before. */
export function openPeriods(state: CoreState, sensor: SensorState, window: number): void {
  advance(state, sensor, sensor.minute, '1m', window);
  advance(state, sensor, sensor.tenMinutes, '10m', window);
  advance(state, sensor, sensor.hour, '1h', window);
}

/** Posts sums of one base window (ms) to its periods: into the open one, or as a difference to a closed one. */
export function postSums(
  state: CoreState,
  sensor: SensorState,
  window: number,
  sums: Sums,
  bins: readonly BinSum[],
): void {
  postTo(state, sensor, sensor.minute, '1m', window, sums, bins);
  if (floorTo(window, PERIOD_MS['1m']) === sensor.minute.start) return;
  postTo(state, sensor, sensor.tenMinutes, '10m', window, sums, bins);
  postTo(state, sensor, sensor.hour, '1h', window, sums, bins);
}

function postTo(
  state: CoreState,
  sensor: SensorState,
  open: OpenPeriod,
  period: RollupAdd['period'],
  window: number,
  sums: Sums,
  bins: readonly BinSum[],
): void {
  const start = floorTo(window, PERIOD_MS[period]);
  if (start === open.start) {
    addSums(open.sums, sums);
    for (const { bin, pulses, ms } of bins) addToBins(open.bins, bin, pulses, ms);
    return;
  }
  const copy = emptySums();
  addSums(copy, sums);
  const copies = bins.map((sum) => ({ ...sum }));
  putOut(state, sensor, period, start, copy, copies);
}

/**
 * Takes a classified increment out of its window, or puts one in, after the window was issued. The caller changes the
 * row between two calls: sign −1 before, +1 after.
 */
export function repost(state: CoreState, sensor: SensorState, row: Increment, sign: 1 | -1): void {
  if (row.class === Class.none || row.class === Class.pending) return;
  const window = windowOf(row);
  const sums = emptySums();
  addRow(sums, row, sign);
  const bins: BinSum[] = [];
  addRowToBins(bins, row, sign);
  postSums(state, sensor, window, sums, bins);
  reviseMinute(sensor, window, row, sign);
  if (row.class === Class.running)
    reviseWatch(
      sensor,
      row.bin === '' ? ALL_BIN : row.bin,
      window,
      sign * row.pulses,
      sign * exposureOf(row),
    );
  noteLate(state, sensor, row, window, sign);
  state.out.windowsRevised.push({ sensor: sensor.key, start: window });
  touch(state, sensor);
}

function reviseMinute(sensor: SensorState, window: number, row: Increment, sign: 1 | -1): void {
  if (row.class !== Class.running) return;
  const start = floorTo(window, PERIOD_MS['1m']);
  if (start >= sensor.minute.start) return;
  const minutes = sensor.minutes;
  sensor.closed = null;
  let i = minutes.length;
  while (i > 0 && minutes[i - 1]!.start >= start) i--;
  const found = minutes[i];
  if (found !== undefined && found.start === start) {
    found.pulses += sign * row.pulses;
    found.ms += sign * exposureOf(row);
    addRowToBins(found.bins, row, sign);
    if (found.ms === 0 && found.pulses === 0) minutes.splice(i, 1);
  } else if (i > 0 || minutes.length === 0) {
    const bins: BinSum[] = [];
    addRowToBins(bins, row, sign);
    minutes.splice(i, 0, { start, pulses: sign * row.pulses, ms: sign * exposureOf(row), bins });
    if (start <= sensor.evaluatedTo) sensor.refilledFrom = Math.min(start, sensor.refilledFrom ?? start);
  }
}
