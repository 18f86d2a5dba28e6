/**
 * History fed into the window stage: closed minutes and hours as the store keeps them, in the order in which the sweep
 * closed them. What looks at minutes and hours is the live code itself, so that another plan can be tried on the past.
 * Why minutes: increments are kept for days, minutes for a year, and rate and deviation alarms look at nothing finer. What
 * arrived late is where it belongs, so the past comes out as punctual readings would have made it.
 */
import { runningCells } from './bin-sums.js';
import { followAction, followWithdrawal } from './deviation/restart.js';
import { closeWatchHour, tickWatches } from './deviation/watch.js';
import type { MaintenanceAction } from './maintenance-rows.js';
import type { Minute } from './periods.js';
import { HOUR_WINDOWS, WINDOW_MS } from './ring.js';
import type { BinSum, Spread, Sums } from './rows.js';
import { refreshDispersion } from './spread.js';
import { floorTo, type CoreState, type SensorState } from './state.js';
import { spreadsKept } from './sum-rows.js';
import { enterBin, evaluateMinute } from './sweep.js';
import { PERIOD_MS } from './words.js';

/** A minute with running exposure. */
export interface PastMinute extends Minute {
  /** condition bin that it ran in last; '': there are no bins, or none is known */
  lastBin: string;
}

/** An hour with running or background exposure. */
export interface PastHour {
  start: number;
  sums: Sums;
  /** as in `RollupAdd` */
  bins: BinSum[];
  /** in order of their bins */
  spreads: readonly Spread[];
}

/** Running counts of one base window. */
export interface PastWindow {
  start: number;
  pulses: number;
  ms: number;
  /** it held a common burst */
  common: boolean;
  bin: string;
}

/** Time goes on to `now`: hours that wait are taken in, and the sisters are looked at when a day is over. */
export function passPastTime(state: CoreState, now: number): void {
  state.now = Math.max(state.now, now);
  let left: number;
  do {
    left = state.unread.size;
    tickWatches(state);
  } while (state.unread.size > 0 && state.unread.size < left);
}

/** Whether dispersion is still found from base windows: no hour has closed yet. */
export function needsPastWindows(sensor: SensorState): boolean {
  return sensor.spreads.length === 0;
}

/** A base window of the first hour, in order of time, before its minute closes. */
export function takePastWindow(sensor: SensorState, window: PastWindow): void {
  sensor.ring.set(window.start / WINDOW_MS, window.pulses, window.ms, window.common, window.bin);
}

/**
 * The minute that begins at `start` closes, and with it the hour where it is the last of one. Null: nothing ran, and
 * nothing was counted in that hour.
 */
export function closePastMinute(
  state: CoreState,
  sensor: SensorState,
  start: number,
  minute: PastMinute | null,
  hour: PastHour | null,
): void {
  if (minute !== null) {
    if (sensor.motor.group !== null && minute.lastBin !== '') enterBin(sensor, minute.lastBin);
    const { pulses, ms, bins } = minute;
    sensor.minutes.push({ start, pulses, ms, bins });
  }
  const end = start + PERIOD_MS['1m'];
  if (hour !== null) closePastHour(state, sensor, hour);
  const isOpen = hour === null && end % PERIOD_MS['10m'] === 0 && needsPastWindows(sensor);
  if (hour !== null) refreshDispersion(sensor, null);
  else if (isOpen) refreshDispersion(sensor, floorTo(start, HOUR_WINDOWS * WINDOW_MS));
  if (minute !== null) evaluateMinute(state, sensor);
}

function closePastHour(state: CoreState, sensor: SensorState, hour: PastHour): void {
  const { start, sums, bins, spreads } = hour;
  sensor.spreads.push(...spreads);
  const excess = sensor.spreads.length - spreadsKept(sensor.motor.group !== null);
  if (excess > 0) sensor.spreads.splice(0, excess);
  closeWatchHour(state, sensor, start, sums, runningCells(sums, bins));
}

/** A maintenance action becomes known: baselines of its motor begin anew as they do live. */
export function knowPastAction(state: CoreState, action: MaintenanceAction): void {
  const row = { ...action, withdrawn: null };
  state.maintenance.actions.set(row.id, row);
  followAction(state, row);
}

/** One that was known is withdrawn: what it laid aside counts again. */
export function withdrawPastAction(state: CoreState, action: MaintenanceAction): void {
  const row = state.maintenance.actions.get(action.id);
  if (row === undefined) return;
  row.withdrawn = action.withdrawn;
  followWithdrawal(state, row);
}
