/**
 * Dispersion of a sensor's running counts: per running hour the sums that the Pearson statistic needs, for blocks of
 * 10 s, 1 min, 10 min and 1 h; over the trailing 48 running hours the largest of the four.
 */
import { ALL_BIN, MIXED_BIN } from './bin-name.js';
import { dispersionOver } from '../stats/dispersion.js';
import { joinBins } from './bin-sums.js';
import { HOUR_WINDOWS, WINDOW_MS, WindowRing } from './ring.js';
import { spreadsKept } from './sum-rows.js';
import type { Increment, Spread } from './rows.js';
import type { CoreState, SensorState } from './state.js';
import { windowOf } from './window.js';
import { Class, PERIOD_MS } from './words.js';

/** Blocks in base windows. */
const BLOCKS = [1, 6, 60, 360] as const;

export const HOUR_MS = PERIOD_MS['1h'];

export interface BinDispersion {
  dispersion: number;
  uncertain: boolean;
}

/**
 * Sums over the running windows of one hour (start in ms), one for each condition bin that ran, in order of their names.
 * Windows of common bursts are no part of it, nor those that hold more than one bin.
 */
export function spreadsOf(key: string, ring: WindowRing, hour: number): Spread[] {
  const found = new Set<string>();
  if (ring.hasBins()) {
    for (let i = 0; i < HOUR_WINDOWS; i++) {
      const window = hour / WINDOW_MS + i;
      if (ring.isUsable(window)) found.add(ring.binAt(window));
    }
  } else found.add('');
  found.delete(MIXED_BIN);
  return [...found]
    .sort()
    .map((bin) => spreadOf(key, ring, hour, bin))
    .filter(({ ms }) => ms > 0);
}

function spreadOf(sensor: string, ring: WindowRing, hour: number, bin: string): Spread {
  const first = hour / WINDOW_MS;
  const spread: Spread = {
    sensor,
    hour,
    bin: bin === '' ? ALL_BIN : bin,
    pulses: 0,
    ms: 0,
    q: [0, 0, 0, 0],
    k: [0, 0, 0, 0],
  };
  const x = [0, 0, 0, 0];
  const e = [0, 0, 0, 0];
  for (let i = 0; i < HOUR_WINDOWS; i++) {
    const slot = ring.slotOf(first + i);
    if (slot >= 0 && ring.binAt(first + i) === bin) {
      const pulses = ring.pulsesIn(slot);
      const ms = ring.msIn(slot);
      spread.pulses += pulses;
      spread.ms += ms;
      for (let b = 0; b < 4; b++) {
        x[b]! += pulses;
        e[b]! += ms;
      }
    }
    for (let b = 0; b < 4 && (i + 1) % BLOCKS[b]! === 0; b++) {
      if (e[b]! === 0) continue;
      spread.q[b]! += (x[b]! * x[b]!) / (e[b]! / 1000);
      spread.k[b]! += 1;
      x[b] = 0;
      e[b] = 0;
    }
  }
  return spread;
}

/** Sets one window as its increments are classified: running pulses and exposure; one common increment leaves it out. */
export function recallWindow(ring: WindowRing, window: number, group: readonly Increment[]): void {
  let pulses = 0;
  let ms = 0;
  let common = false;
  let bin: string | null = null;
  for (const row of group) {
    if (row.class === Class.common) common = true;
    if (row.class !== Class.running) continue;
    pulses += row.pulses;
    ms += row.to - row.from;
    bin = bin === null ? row.bin : joinBins(bin, row.bin);
  }
  ring.set(window / WINDOW_MS, pulses, ms, common, bin ?? '');
}

/** The spreads of an hour from all its rows, ordered by `to`; none: nothing ran. */
export function spreadsOfRows(key: string, rows: readonly Increment[], hour: number): Spread[] {
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
  return spreadsOf(key, ring, hour);
}

/** The past of a closed hour came out differently: its spreads take the place of those before. */
export function reviseSpreads(
  state: CoreState,
  sensor: SensorState,
  hour: number,
  spreads: readonly Spread[],
): void {
  const { out } = state;
  const others = sensor.spreads.filter((spread) => spread.hour !== hour);
  sensor.spreads = [...others, ...spreads]
    .sort((a, b) => a.hour - b.hour || (a.bin < b.bin ? -1 : 1))
    .slice(-spreadsKept(sensor.motor.group !== null));
  out.spreads = out.spreads.filter((spread) => spread.hour !== hour || spread.sensor !== sensor.key);
  out.removedSpreads.push({ sensor: sensor.key, hour });
  out.spreads.push(...spreads);
}

/** At the end of an hour: its spreads are put out and kept. */
export function closeSpread(state: CoreState, sensor: SensorState, hour: number): void {
  const spreads = spreadsOf(sensor.key, sensor.ring, hour);
  sensor.spreads.push(...spreads);
  const excess = sensor.spreads.length - spreadsKept(sensor.motor.group !== null);
  if (excess > 0) sensor.spreads.splice(0, excess);
  state.out.spreads.push(...spreads);
}

/**
 * Dispersion for counts of some increments: the largest of the bins that they ran in; where one of these has none of its own
 * yet, the largest of all. `spreads`: newest first.
 */
export function dispersionIn(spreads: readonly Spread[], increments: readonly Increment[]): BinDispersion {
  const byBin = dispersionByBin(spreads);
  const ran = increments.filter((row) => row.class === Class.running);
  const bins = new Set(ran.map((row) => (row.bin === '' ? ALL_BIN : row.bin)));
  bins.delete(MIXED_BIN);
  const own = [...bins].map((bin) => byBin.get(bin));
  const isKnown = own.length > 0 && own.every((found) => found?.uncertain === false);
  const taken = isKnown ? own : [...byBin.values()];
  return { dispersion: Math.max(1, ...taken.map((found) => found?.dispersion ?? 1)), uncertain: !isKnown };
}

function dispersionByBin(spreads: readonly Spread[]): Map<string, BinDispersion> {
  const byBin = new Map<string, Spread[]>();
  for (const spread of spreads) {
    const before = byBin.get(spread.bin);
    if (before === undefined) byBin.set(spread.bin, [spread]);
    else before.push(spread);
  }
  const found = new Map<string, BinDispersion>();
  for (const [bin, rows] of byBin) {
    const { dispersion, uncertain } = dispersionOver(rows);
    found.set(bin, { dispersion, uncertain });
  }
  return found;
}

/** Finds the dispersion anew; `openHour`: the hour that is not closed yet counts too (null: there is none). */
export function refreshDispersion(sensor: SensorState, openHour: number | null): void {
  const open = openHour === null ? [] : spreadsOf(sensor.key, sensor.ring, openHour);
  const newestFirst = [...sensor.spreads, ...open].reverse();
  if (sensor.motor.group === null) {
    const found = dispersionOver(newestFirst);
    sensor.dispersion = found.dispersion;
    sensor.dispersionUncertain = found.uncertain;
    return;
  }
  sensor.binDispersions = dispersionByBin(newestFirst);
  applyDispersion(sensor);
}

/** The sensor's dispersion is that of the bin it is in; until the bin has its own, the largest that is known. */
export function applyDispersion(sensor: SensorState): void {
  const own = sensor.binDispersions.get(sensor.bin === '' ? ALL_BIN : sensor.bin);
  sensor.dispersionUncertain = own?.uncertain ?? true;
  sensor.dispersion = own?.dispersion ?? 1;
  if (!sensor.dispersionUncertain) return;
  for (const { dispersion } of sensor.binDispersions.values())
    sensor.dispersion = Math.max(sensor.dispersion, dispersion);
}
