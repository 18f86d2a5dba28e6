/**
 * What a sensor counted in running, by day (UTC) and condition bin: the one store that baselines, comparisons with sisters
 * and trends are made from. Sums are additive, so a late revision of an hour is a difference added to its day.
 * Why days: a yardstick must be spread over days, and what differs from day to day is what hourly blocks cannot show.
 */
import type { HourSpread } from '../../stats/dispersion.js';

export const DAY_MS = 86_400_000;
/** Days kept: four weeks hold every weekday four times. */
export const DAYS_KEPT = 28;

/** Sums of one bin in one day. */
export interface CellSums {
  pulses: number;
  /** running exposure */
  ms: number;
  /** what the dispersion is found from; hours that came too late for it are in the sums above alone */
  spread: {
    pulses: number;
    ms: number;
    q: [number, number, number, number];
    k: [number, number, number, number];
  };
}

export interface DaySums {
  /** start of the day, UTC */
  start: number;
  cells: Map<string, CellSums>;
}

/** One closed hour of one bin. */
export interface HourCell {
  bin: string;
  hour: number;
  /** as in the rollup of the hour */
  pulses: number;
  ms: number;
  /** null: none of its windows can tell one */
  spread: HourSpread | null;
}

export function emptyCell(): CellSums {
  return { pulses: 0, ms: 0, spread: { pulses: 0, ms: 0, q: [0, 0, 0, 0], k: [0, 0, 0, 0] } };
}

/** Adds b to a. */
export function addCell(a: CellSums, b: CellSums): void {
  a.pulses += b.pulses;
  a.ms += b.ms;
  addSpread(a.spread, b.spread);
}

function addSpread(into: CellSums['spread'], spread: HourSpread): void {
  into.pulses += spread.pulses;
  into.ms += spread.ms;
  for (let b = 0; b < 4; b++) {
    into.q[b]! += spread.q[b]!;
    into.k[b]! += spread.k[b]!;
  }
}

/** The day that holds `at`, made and put in its place when there is none; null: older than all that are kept. */
export function dayOf(days: DaySums[], at: number): DaySums | null {
  const start = Math.floor(at / DAY_MS) * DAY_MS;
  let i = days.length;
  while (i > 0 && days[i - 1]!.start > start) i--;
  const found = days[i - 1];
  if (found?.start === start) return found;
  if (i === 0 && days.length >= DAYS_KEPT) return null;
  const made: DaySums = { start, cells: new Map() };
  days.splice(i, 0, made);
  if (days.length > DAYS_KEPT) days.shift();
  return made;
}

/** The bin's sums of a day, made when there are none. */
export function cellOf(day: DaySums, bin: string): CellSums {
  let cell = day.cells.get(bin);
  if (cell === undefined) {
    cell = emptyCell();
    day.cells.set(bin, cell);
  }
  return cell;
}

/** Adds a closed hour. */
export function addHour(days: DaySums[], { bin, hour, pulses, ms, spread }: HourCell): void {
  const day = dayOf(days, hour);
  if (day === null) return;
  const cell = cellOf(day, bin);
  cell.pulses += pulses;
  cell.ms += ms;
  if (spread !== null) addSpread(cell.spread, spread);
}

/** Sums of a bin over the days that begin at or after `from` and before `to`, and on how many of them it ran. */
export function sumDays(
  days: readonly DaySums[],
  bin: string,
  from: number,
  to = Infinity,
): CellSums & { days: number } {
  const total = { ...emptyCell(), days: 0 };
  for (const day of days) {
    if (day.start < from || day.start >= to) continue;
    const cell = day.cells.get(bin);
    if (cell === undefined) continue;
    addCell(total, cell);
    if (cell.ms > 0) total.days += 1;
  }
  return total;
}
