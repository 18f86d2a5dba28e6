/**
 * What was learnt before work that made the counts another measure: laid aside, so that it counts again when the entry of the
 * work is withdrawn. Days are shared out by the hour: an hour is in the days of one part only, and parts are added up again.
 * Source: our choice; four weeks, because older days are not kept either.
 */
import type { SensorState } from '../state.js';
import { spreadsKept } from '../sum-rows.js';
import type { Baseline } from './baseline.js';
import { addCell, cellOf, DAY_MS, dayOf, DAYS_KEPT, type CellSums, type DaySums } from './day-sums.js';
import type { SensorWatch } from './watch-state.js';

const KEPT_MS = DAYS_KEPT * DAY_MS;

export interface LaidAside {
  /** number of the entry */
  readonly action: number;
  /** tick at which it was laid aside, ms */
  readonly laidAt: number;
  baseline: Baseline;
  days: DaySums[];
}

/** Parts that are too old to be of use are dropped. */
export function dropAside(watch: SensorWatch, now: number): void {
  if (watch.aside.length > 0) watch.aside = watch.aside.filter((part) => now - part.laidAt < KEPT_MS);
}

/** The part that an hour (ms) counts in; null: none that is kept. */
export function partOf(watch: SensorWatch, hour: number): { baseline: Baseline; days: DaySums[] } | null {
  if (hour >= watch.baseline.since) return watch;
  for (let i = watch.aside.length - 1; i >= 0; i--)
    if (hour >= watch.aside[i]!.baseline.since) return watch.aside[i]!;
  return null;
}

/**
 * The days before `at` and those after it. The hours of its own day are told apart by their spreads, which are kept for some days
 * of running; where they do not reach back so far, that whole day is before. `from`: what is after begins here.
 */
export function shareDays(
  sensor: SensorState,
  at: number,
): { before: DaySums[]; after: DaySums[]; from: number } {
  const { days, readTo } = sensor.watch;
  const start = Math.floor(at / DAY_MS) * DAY_MS;
  const before = days.filter((day) => day.start < at);
  const after = days.filter((day) => day.start >= at);
  const own = before.find((day) => day.start === start);
  if (own === undefined) return { before, after, from: at };
  const oldest = sensor.spreads[0]?.hour ?? Infinity;
  const isWhole = sensor.spreads.length < spreadsKept(sensor.motor.group !== null);
  if (oldest > at && !isWhole) return { before, after, from: start + DAY_MS };
  for (const { hour, bin, pulses, ms, q, k } of sensor.spreads) {
    if (hour < at || hour >= start + DAY_MS || hour >= readTo || !own.cells.has(bin)) continue;
    const cell: CellSums = { pulses, ms, spread: { pulses, ms, q: [...q], k: [...k] } };
    addCell(cellOf(dayOf(after, hour)!, bin), cell);
    addCell(own.cells.get(bin)!, negate(cell));
  }
  return { before, after, from: at };
}

function negate({ pulses, ms, spread }: CellSums): CellSums {
  const [q0, q1, q2, q3] = spread.q;
  const [k0, k1, k2, k3] = spread.k;
  return {
    ...{ pulses: -pulses, ms: -ms },
    spread: { pulses: -pulses, ms: -ms, q: [-q0, -q1, -q2, -q3], k: [-k0, -k1, -k2, -k3] },
  };
}

/** An older part and the one that followed it as one: sums of both, the yardsticks of the older one before those of the newer. */
export function joinParts(
  older: { baseline: Baseline; days: DaySums[] },
  newer: { baseline: Baseline; days: DaySums[] },
): { baseline: Baseline; days: DaySums[] } {
  const days = older.days;
  for (const { start, cells } of newer.days) {
    const day = dayOf(days, start);
    if (day === null) continue;
    for (const [bin, cell] of cells) addCell(cellOf(day, bin), cell);
  }
  const { since, yardsticks, unsteady } = older.baseline;
  for (const [bin, yardstick] of yardsticks) {
    const visited = days.findLast(({ cells }) => (cells.get(bin)?.ms ?? 0) > 0);
    if (visited !== undefined) yardstick.visitedAt = Math.max(yardstick.visitedAt, visited.start + DAY_MS);
  }
  for (const [bin, yardstick] of newer.baseline.yardsticks)
    if (!yardsticks.has(bin)) yardsticks.set(bin, yardstick);
  return { baseline: { since, yardsticks, unsteady }, days };
}
