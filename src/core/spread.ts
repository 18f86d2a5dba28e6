/**
 * Dispersion of a sensor's running counts: per running hour the sums that the Pearson statistic needs, for blocks of
 * 10 s, 1 min, 10 min and 1 h; over the trailing 48 running hours the largest of the four.
 */
import { ALL_BIN } from './bin-name.js';
import { dispersionOver } from '../stats/dispersion.js';
import { WINDOW_MS, WindowRing } from './ring.js';
import type { Increment, Spread } from './rows.js';
import type { CoreState, SensorState } from './state.js';
import { windowOf } from './window.js';
import { Class, PERIOD_MS } from './words.js';

/** Blocks in base windows. */
const BLOCKS = [1, 6, 60, 360] as const;
const HOURS_KEPT = 96;

export const HOUR_MS = PERIOD_MS['1h'];

/** Sums over the running windows of one hour (start in ms); null: nothing ran. Windows of common bursts are no part of it. */
export function spreadOf(key: string, ring: WindowRing, hour: number): Spread | null {
  const first = hour / WINDOW_MS;
  const spread: Spread = {
    sensor: key,
    hour,
    bin: ALL_BIN,
    pulses: 0,
    ms: 0,
    q: [0, 0, 0, 0],
    k: [0, 0, 0, 0],
  };
  const x = [0, 0, 0, 0];
  const e = [0, 0, 0, 0];
  for (let i = 0; i < 360; i++) {
    const usable = ring.isUsable(first + i);
    const pulses = usable ? ring.pulsesAt(first + i) : 0;
    const ms = usable ? ring.msAt(first + i) : 0;
    spread.pulses += pulses;
    spread.ms += ms;
    for (let b = 0; b < 4; b++) {
      x[b]! += pulses;
      e[b]! += ms;
      if ((i + 1) % BLOCKS[b]! !== 0) continue;
      if (e[b]! > 0) {
        spread.q[b]! += (x[b]! * x[b]!) / (e[b]! / 1000);
        spread.k[b]! += 1;
      }
      x[b] = 0;
      e[b] = 0;
    }
  }
  return spread.ms > 0 ? spread : null;
}

/** Sets one window as its increments are classified: running pulses and exposure; one common increment leaves it out. */
export function recallWindow(ring: WindowRing, window: number, group: readonly Increment[]): void {
  let pulses = 0;
  let ms = 0;
  let common = false;
  for (const row of group) {
    if (row.class === Class.common) common = true;
    if (row.class !== Class.running) continue;
    pulses += row.pulses;
    ms += row.to - row.from;
  }
  ring.set(window / WINDOW_MS, pulses, ms, common);
}

/** The spread of an hour from all its rows, ordered by `to`; all sums 0: nothing ran. */
export function spreadOfRows(key: string, rows: readonly Increment[], hour: number): Spread {
  const ring = new WindowRing(0);
  let group: Increment[] = [];
  const flush = (): void => {
    if (group.length > 0) recallWindow(ring, windowOf(group[0]!), group);
  };
  for (const row of rows) {
    const window = windowOf(row);
    if (window < hour || window >= hour + HOUR_MS) continue;
    if (group.length > 0 && windowOf(group[0]!) !== window) {
      flush();
      group = [];
    }
    group.push(row);
  }
  flush();
  return (
    spreadOf(key, ring, hour) ?? {
      sensor: key,
      hour,
      bin: ALL_BIN,
      pulses: 0,
      ms: 0,
      q: [0, 0, 0, 0],
      k: [0, 0, 0, 0],
    }
  );
}

/** The past of a closed hour came out differently: its spread takes the place of the one before. */
export function reviseSpread(state: CoreState, sensor: SensorState, spread: Spread): void {
  const others = sensor.spreads.filter(({ hour }) => hour !== spread.hour);
  sensor.spreads = [...others, spread].sort((a, b) => a.hour - b.hour).slice(-HOURS_KEPT);
  state.out.spreads.push(spread);
}

/** At the end of an hour: its spread is put out and kept. */
export function closeSpread(state: CoreState, sensor: SensorState, hour: number): void {
  const spread = spreadOf(sensor.key, sensor.ring, hour);
  if (spread === null) return;
  sensor.spreads.push(spread);
  if (sensor.spreads.length > HOURS_KEPT) sensor.spreads.shift();
  state.out.spreads.push(spread);
}

/** Finds the dispersion anew; `openHour`: the hour that is not closed yet counts too (null: there is none). */
export function refreshDispersion(sensor: SensorState, openHour: number | null): void {
  const open = openHour === null ? null : spreadOf(sensor.key, sensor.ring, openHour);
  const newestFirst = [...sensor.spreads].reverse();
  const found = dispersionOver(open === null ? newestFirst : [open, ...newestFirst]);
  sensor.dispersion = found.dispersion;
  sensor.dispersionUncertain = found.uncertain;
}
