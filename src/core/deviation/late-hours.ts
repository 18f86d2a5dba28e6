/**
 * Hours that come late. What a backlog brings of an hour that closed without it waits here until it has all come, and is then
 * judged as a punctual hour would have been; hours that close meanwhile wait for it, so that they are judged in order. What changes in an hour that waits for
 * its turn, or that background is still judged by, is set right there.
 *
 * An hour that had some running when it closed is judged by that part alone: in two parts it could raise alone what two full
 * hours must agree on. Its late part is in the days, and so in yardsticks, comparisons and returns.
 */
import type { Increment } from '../rows.js';
import { touchHours, type CoreState, type SensorState } from '../state.js';
import { addToBins } from '../bin-sums.js';
import { ALL_BIN } from '../bin-name.js';
import { Class, PERIOD_MS } from '../words.js';
import type { LateHour } from './watch-state.js';

const HOUR_MS = PERIOD_MS['1h'];
/** An hour to which nothing came for so long has all that comes. Our choice: a backlog is paced by tenths of seconds. */
const QUIET_MS = 60_000;
/** Hours with spreads that are remembered for certain, see spread.ts; older ones may have been judged. */
const HOURS_SURE = 96;

/** A classified increment is taken out of its window (−1) or put in, after the window was issued. `window`: its start. */
export function noteLate(
  state: CoreState,
  sensor: SensorState,
  row: Increment,
  window: number,
  sign: 1 | -1,
): void {
  if (row.class !== Class.running && row.class !== Class.background) return;
  const hour = Math.floor(window / HOUR_MS) * HOUR_MS;
  if (hour >= sensor.hour.start || hour + HOUR_MS > sensor.sweptTo) return;
  const pulses = sign * row.pulses;
  const ms = sign * Math.max(0, row.to - row.from);
  if (row.class === Class.running) {
    const late = lateRunning(sensor, hour);
    if (late === null) return;
    addToBins(late.cells, row.bin === '' ? ALL_BIN : row.bin, pulses, ms);
    late.at = state.now;
  } else if (!correctBackground(state, sensor, hour, pulses, ms)) {
    const late = lateOf(sensor, hour);
    late.pulses += pulses;
    late.ms += ms;
    late.at = state.now;
  }
  if (sensor.watch.late.length > 0) state.unread.add(sensor);
  sensor.watchChanged = true;
}

/** Where late running of an hour is gathered; null: the hour waits for its turn, or was judged, or is too old to tell. */
function lateRunning(sensor: SensorState, hour: number): LateHour | null {
  const { watch, spreads } = sensor;
  const late = watch.late.find((each) => each.hour === hour);
  if (late !== undefined && late.cells.length > 0) return late;
  if (watch.unread.some((unread) => unread.hour === hour)) return null;
  if (spreads.some((spread) => spread.hour === hour)) return null;
  if (spreads.length >= HOURS_SURE && hour < spreads[0]!.hour) return null;
  return late ?? lateOf(sensor, hour);
}

/** True: the hour is known, and stands as it should. */
function correctBackground(
  state: CoreState,
  sensor: SensorState,
  hour: number,
  pulses: number,
  ms: number,
): boolean {
  const { unread, background, late } = sensor.watch;
  const waiting = unread.find((each) => each.hour === hour);
  const held = waiting ?? background.find((each) => each.hour === hour);
  if (held === undefined) {
    if (late.some((each) => each.hour === hour)) return false;
    // older than all that are held: it is part of the past, or never will be
    return background.length > 0 && hour < background[0]!.hour;
  }
  held.pulses += pulses;
  held.ms += ms;
  if (waiting !== undefined) touchHours(state, sensor);
  return true;
}

function lateOf({ watch }: SensorState, hour: number): LateHour {
  const known = watch.late.find((each) => each.hour === hour);
  if (known !== undefined) return known;
  const made: LateHour = { hour, cells: [], pulses: 0, ms: 0, at: 0 };
  watch.late.push(made);
  watch.late.sort((a, b) => a.hour - b.hour);
  return made;
}

/** Late hours that have all that comes, in order, taken out of those that wait. */
export function takeLate(state: CoreState, { watch }: SensorState): LateHour[] {
  const done = watch.late.filter(({ at }) => state.now - at >= QUIET_MS);
  if (done.length > 0) watch.late = watch.late.filter((each) => !done.includes(each));
  return done;
}

/** Whether a closed hour has to wait for an earlier one that is still coming in. */
export function waitsForLate({ watch }: SensorState, hour: number): boolean {
  return watch.late.some((each) => each.hour < hour);
}
