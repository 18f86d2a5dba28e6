/**
 * The jackknife over running days: how much the stratified ratio changes when a day is left out. It needs no model of the bursts, and
 * sees what a dispersion of hours does not: that one day differs from another.
 */
import { stratifiedRatio } from './mantel-haenszel.js';

/** What one side counted in one bin on one day. `day`: any key; equal keys on both sides are the same day. */
export interface DayCount {
  readonly day: string;
  readonly bin: string;
  readonly pulses: number;
  readonly exposureMs: number;
}

export interface DaysRatio {
  ratio: number;
  /** variance of ln ratio */
  lnVariance: number;
  /** degrees of freedom for Student's t */
  freedom: number;
  days: number;
}

interface Sums {
  pulsesA: number;
  exposureA: number;
  pulsesB: number;
  exposureB: number;
}

type Table = Map<string, Sums>;

function add(table: Table, bin: string, side: 'A' | 'B', pulses: number, exposureMs: number): void {
  const sums = table.get(bin) ?? { pulsesA: 0, exposureA: 0, pulsesB: 0, exposureB: 0 };
  sums[`pulses${side}`] += pulses;
  sums[`exposure${side}`] += exposureMs;
  table.set(bin, sums);
}

/** ln of the ratio over the bins that both sides have visited, less what `without` holds; not finite where it is undefined. */
function lnRatio(all: Table, without: Table | null): number {
  const strata: Sums[] = [];
  for (const [bin, sums] of all) {
    const less = without?.get(bin);
    const exposureA = sums.exposureA - (less?.exposureA ?? 0);
    const exposureB = sums.exposureB - (less?.exposureB ?? 0);
    if (!(exposureA > 0 && exposureB > 0)) continue;
    const pulsesA = sums.pulsesA - (less?.pulsesA ?? 0);
    const pulsesB = sums.pulsesB - (less?.pulsesB ?? 0);
    strata.push({ pulsesA, exposureA, pulsesB, exposureB });
  }
  return Math.log(stratifiedRatio(strata));
}

/**
 * Ratio a / b with the variance of its logarithm. Days that only one side has form two samples, each with its own sum; days that both
 * have (sisters on the same day) are left out of both at once, so that what they share cancels. A mixture is taken as one sample.
 * Null where it says nothing: fewer than `daysMin` days in a sample, or a ratio that is 0, infinite or undefined with some day left out.
 * Source: B. Efron and C. Stein, The jackknife estimate of variance, Annals of Statistics 9 (1981) 586-596; two samples as
 * J. N. Arvesen, Annals of Mathematical Statistics 40 (1969) 2076-2100; degrees of freedom F. E. Satterthwaite,
 * Biometrics Bulletin 2 (1946) 110-114; deviations from the whole ratio, not from their mean, which is the larger: our choice.
 */
export function jackknifeDays(
  a: readonly DayCount[],
  b: readonly DayCount[],
  daysMin: number,
): DaysRatio | null {
  const all: Table = new Map();
  const days = new Map<string, { table: Table; a: boolean; b: boolean }>();
  const take = (counts: readonly DayCount[], side: 'A' | 'B'): void => {
    for (const { day, bin, pulses, exposureMs } of counts) {
      if (!(exposureMs > 0)) continue;
      const entry = days.get(day) ?? { table: new Map(), a: false, b: false };
      if (side === 'A') entry.a = true;
      else entry.b = true;
      days.set(day, entry);
      add(entry.table, bin, side, pulses, exposureMs);
      add(all, bin, side, pulses, exposureMs);
    }
  };
  take(a, 'A');
  take(b, 'B');
  const whole = lnRatio(all, null);
  if (!Number.isFinite(whole)) return null;
  const isApart = [...days.values()].every((day) => day.a !== day.b);
  const samples = isApart
    ? [[...days.values()].filter((day) => day.a), [...days.values()].filter((day) => day.b)]
    : [[...days.values()]];
  let variance = 0;
  let perFreedom = 0;
  for (const sample of samples) {
    const n = sample.length;
    if (n < daysMin) return null;
    let squares = 0;
    for (const day of sample) squares += (lnRatio(all, day.table) - whole) ** 2;
    const part = ((n - 1) / n) * squares;
    variance += part;
    perFreedom += part ** 2 / (n - 1);
  }
  if (!(variance > 0 && Number.isFinite(variance))) return null;
  return {
    ratio: Math.exp(whole),
    lnVariance: variance,
    freedom: variance ** 2 / perFreedom,
    days: days.size,
  };
}
