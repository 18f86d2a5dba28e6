/**
 * The slow look: a one-sided CUSUM on hourly (O − E)/√(φE), for rises too small for ten minutes. Rises up to a quarter are
 * not asked about, because a load or a season that no bin tells apart does as much; one hour counts for three deviations at most, because
 * the bursts of a healthy motor can fill an hour.
 * Source: E. S. Page, Biometrika 41 (1954) 100-115; the threshold from run lengths simulated with an estimated yardstick
 * (rise-threshold.ts), not from the ideal table.
 */
import { stepCusum } from '../../stats/cusum.js';
import type { Expected } from './baseline.js';

/** Rises up to this ratio are let pass. */
export const RATIO_PASSED = 1.25;
/** Standard deviations of the yardstick's doubt that are let pass on top. */
export const DOUBT_PASSED = 2;
/** Least allowance per hour in standard deviations. */
export const ALLOWANCE_MIN = 0.25;
/** Most that one hour adds, in standard deviations. */
export const STEP_MAX = 3;

export interface Rise {
  /** the CUSUM in standard deviations of an hour */
  height: number;
  /** start of the first hour of the present excursion; null: at zero */
  from: number | null;
  /** pulses and running exposure of the excursion, and what was expected */
  pulses: number;
  ms: number;
  expected: Expected;
  /** hours of running in the excursion */
  hours: number;
}

export function newRise(): Rise {
  return {
    height: 0,
    from: null,
    pulses: 0,
    ms: 0,
    expected: { pulses: 0, variance: 0, doubt: 0 },
    hours: 0,
  };
}

/** Effective pulses that an hour expects: E²/Σφe. */
export function effectivePulses(expected: Expected): number {
  return expected.variance > 0 ? expected.pulses ** 2 / expected.variance : 0;
}

/** Allowance of an hour with so many effective pulses, when the yardstick is known to the share `doubt` (1 σ). */
export function allowanceOf(effective: number, doubt: number): number {
  return Math.max(ALLOWANCE_MIN, (RATIO_PASSED - 1 + DOUBT_PASSED * doubt) * Math.sqrt(effective));
}

/** The next height after an hour at `deviation` standard deviations. */
export function nextHeight(height: number, deviation: number, allowance: number): number {
  return stepCusum(height, Math.min(deviation, STEP_MAX + allowance), allowance);
}

/** Takes one closed hour: `pulses` in `ms` against what was expected of it. Nothing expected: nothing learnt. */
export function addRiseHour(rise: Rise, hour: number, pulses: number, ms: number, expected: Expected): void {
  if (!(expected.pulses > 0)) return;
  const doubt = Math.sqrt(expected.doubt) / expected.pulses;
  const allowance = allowanceOf(effectivePulses(expected), doubt);
  const height = nextHeight(
    rise.height,
    (pulses - expected.pulses) / Math.sqrt(expected.variance),
    allowance,
  );
  if (height === 0) {
    Object.assign(rise, newRise());
    return;
  }
  rise.height = height;
  rise.from = Math.min(rise.from ?? hour, hour);
  rise.pulses += pulses;
  rise.ms += ms;
  rise.hours += 1;
  addSum(rise.expected, expected);
}

/** The doubt of one yardstick is the same in every hour: its deviations add, not its variances. */
function addSum(into: Expected, more: Expected): void {
  into.pulses += more.pulses;
  into.variance += more.variance;
  into.doubt = (Math.sqrt(into.doubt) + Math.sqrt(more.doubt)) ** 2;
}
