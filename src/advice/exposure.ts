/**
 * When a before/after has enough exposure to be told. Judged by exposure alone, never by how the answer looks: waiting until
 * it looks good would find an effect where there is none.
 * Thresholds are our choice: N/φ of 20 is where 95 % limits hold what they promise; a working day on two days shows that one
 * good day is not the remedy.
 */
import type { Side } from './side.js';
import { unlikeReason } from './side.js';
import { writeHours } from './comparison.js';

export const ENOUGH = { runningMs: 8 * 3_600_000, days: 2, effectivePulses: 20 } as const;

/** What is still missing; all zero: nothing. */
export interface Missing {
  readonly beforeMs: number;
  readonly beforeDays: number;
  readonly afterMs: number;
  readonly afterDays: number;
  /** N/φ still missing before: pulses at the present dispersion */
  readonly beforePulses: number;
}

/** Days on which a side ran in bins that compare. */
export function countDays({ days }: Side): number {
  return new Set(days.filter(({ bin }) => unlikeReason(bin) === null).map(({ day }) => day)).size;
}

/**
 * What a before/after lacks. After the work so much running is needed that the rate of before would have brought N/φ of 20:
 * fewer pulses than that are then the answer, not a lack of it.
 */
export function findMissing(before: Side, after: Side): Missing {
  const sums = sumLike(before);
  const effective = sums.variance > 0 ? (sums.pulses * sums.pulses) / sums.variance : 0;
  const phi = sums.pulses > 0 ? sums.variance / sums.pulses : 1;
  const msPerEffective = effective > 0 ? sums.ms / effective : 0;
  const neededAfter = Math.max(ENOUGH.runningMs, ENOUGH.effectivePulses * msPerEffective);
  return {
    beforeMs: Math.max(0, ENOUGH.runningMs - sums.ms),
    beforeDays: Math.max(0, ENOUGH.days - countDays(before)),
    beforePulses: Math.ceil(Math.max(0, ENOUGH.effectivePulses - effective) * phi),
    afterMs: Math.max(0, neededAfter - sumLike(after).ms),
    afterDays: Math.max(0, ENOUGH.days - countDays(after)),
  };
}

function sumLike({ bins }: Side): { pulses: number; ms: number; variance: number } {
  const sums = { pulses: 0, ms: 0, variance: 0 };
  for (const { bin, pulses, ms, phi } of bins) {
    if (unlikeReason(bin) !== null) continue;
    sums.pulses += pulses;
    sums.ms += ms;
    sums.variance += phi * pulses;
  }
  return sums;
}

export function isEnough(missing: Missing): boolean {
  return Object.values(missing).every((value: number) => value === 0);
}

/** `not enough exposure yet: 5.2 h of running on 1 more day after it`; '' : nothing is missing. */
export function writeMissing(missing: Missing): string {
  if (isEnough(missing)) return '';
  const before = [
    ...(missing.beforeMs > 0 ? [`${writeHours(missing.beforeMs)} of running`] : []),
    ...(missing.beforeDays > 0 ? [writeDays(missing.beforeDays)] : []),
    ...(missing.beforePulses > 0 ? [`${missing.beforePulses} pulses`] : []),
  ];
  const after = [
    ...(missing.afterMs > 0 ? [`${writeHours(missing.afterMs)} of running`] : []),
    ...(missing.afterDays > 0 ? [writeDays(missing.afterDays)] : []),
  ];
  const parts = [
    ...(before.length > 0 ? [`${before.join(' and ')} more before it`] : []),
    ...(after.length > 0 ? [`${after.join(' and ')} more after it`] : []),
  ];
  return `not enough exposure yet: ${parts.join('; ')}`;
}

function writeDays(days: number): string {
  return `${days} ${days === 1 ? 'day' : 'days'}`;
}
