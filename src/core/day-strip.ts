/**
 * The last day of a sensor at a glance: one rate and one letter for each stretch of time. Sums first, divides last; a stretch
 * without running exposure has no rate, which is not zero.
 */
import { Class } from './words.js';

/** Length of one stretch, and how many make a strip: our choice, a day in a hand's breadth of a screen. */
export const STRIP_STEP_MS = 1_200_000;
export const STRIP_STEPS = 72;

/**
 * What most of a stretch was: running, standing, starting or stopping, run state unknown, or nothing heard of the sensor.
 * `x`: excluded for another reason (implausible, function check).
 */
export type StripLetter = 'r' | 's' | 't' | 'u' | 'x' | '-';

/** Sums of one stretch. `ms`: by number of the class, as in `Sums`. */
export interface DayStripSums {
  readonly step: number;
  readonly runningPulses: number;
  readonly ms: readonly number[];
}

export interface DayStrip {
  readonly sensor: string;
  /** per minute, in order of time; null: no running exposure */
  readonly rates: readonly (number | null)[];
  /** one `StripLetter` for each stretch */
  readonly states: string;
  /** running pulses and exposure of the last stretch, which is not over */
  readonly last: { readonly pulses: number; readonly ms: number };
}

/** Beginning of the strip whose last stretch holds `now`; aligned to the epoch, so that all sensors share their stretches. */
export function stripFrom(now: number): number {
  return (Math.floor(now / STRIP_STEP_MS) - STRIP_STEPS + 1) * STRIP_STEP_MS;
}

/** A burst heard by the whole zone fell into running too: for the strip it ran. */
function letterOf(ms: readonly number[]): StripLetter {
  const of = (...classes: Class[]): number => classes.reduce<number>((sum, each) => sum + (ms[each] ?? 0), 0);
  const shares: [StripLetter, number][] = [
    ['r', of(Class.running, Class.common)],
    ['s', of(Class.background)],
    ['t', of(Class.transient)],
    ['u', of(Class.unattributed)],
    ['x', of(Class.rejected, Class.check)],
  ];
  const [letter, most] = shares.reduce((best, each) => (each[1] > best[1] ? each : best));
  return most > 0 ? letter : '-';
}

function rateOf({ runningPulses, ms }: DayStripSums): number | null {
  const exposureMs = ms[Class.running] ?? 0;
  return exposureMs === 0 ? null : Number(((runningPulses * 60_000) / exposureMs).toPrecision(3));
}

/** `sums` in any order, at most one for each stretch; stretches without sums: nothing was heard. */
export function makeDayStrip(sensor: string, sums: readonly DayStripSums[]): DayStrip {
  const rates = new Array<number | null>(STRIP_STEPS).fill(null);
  const letters = new Array<StripLetter>(STRIP_STEPS).fill('-');
  let last = { pulses: 0, ms: 0 };
  for (const each of sums) {
    if (each.step < 0 || each.step >= STRIP_STEPS) continue;
    rates[each.step] = rateOf(each);
    letters[each.step] = letterOf(each.ms);
    if (each.step === STRIP_STEPS - 1) last = { pulses: each.runningPulses, ms: each.ms[Class.running] ?? 0 };
  }
  return { sensor, rates, states: letters.join(''), last };
}
