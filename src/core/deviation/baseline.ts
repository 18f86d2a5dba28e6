/**
 * The baseline of a sensor, bin by bin: learning, learnt or stale. A bin is learnt when its closed hours hold 20 running
 * hours spread over 7 days and N/φ reaches 100, and the period looks steady; what it then holds is the yardstick until it
 * is too old, too long unvisited, or a maintenance action breaks comparability.
 * Source: DESIGN section 6 for what a yardstick needs; ages and the length of unsteady learning are our choice.
 */
import { dispersionOver } from '../../stats/dispersion.js';
import type { BaselinePlan } from '../plan.js';
import { DAY_MS, sumDays, type DaySums } from './day-sums.js';
import { judgeSteadiness } from './steadiness.js';

export const LEARNING = {
  runningMs: 20 * 3_600_000,
  days: 7,
  /** N/φ */
  effectivePulses: 100,
  /** while a period is unsteady, only its newest days are looked at: what went before is forgotten in time */
  unsteadyDays: 14,
} as const;

export type BaselineState = 'learning' | 'learnt' | 'stale';

/** What a bin was found to do. Sums are over [from, to); late revisions inside are added. */
export interface Yardstick {
  from: number;
  to: number;
  pulses: number;
  ms: number;
  days: number;
  /** largest over the block lengths, φ ≥ 1 */
  dispersion: number;
  /** Pearson dispersion of the daily sums, ≥ 1: what comes on top from day to day */
  dayDispersion: number;
  /** end of the last hour in which the bin was visited */
  visitedAt: number;
  stale: boolean;
}

/** What a bin still lacks; zero: nothing of it. */
export interface Lacking {
  runningMs: number;
  days: number;
  /** further pulses at the present dispersion */
  pulses: number;
  /** why the period cannot serve, '' : it is steady so far */
  unsteady: string;
}

export interface Baseline {
  /** hours before this do not count: start of all data, or of comparability after an action */
  since: number;
  yardsticks: Map<string, Yardstick>;
  /** bins whose learning period is unsteady, with the reason */
  unsteady: Map<string, string>;
}

export function newBaseline(since: number): Baseline {
  return { since, yardsticks: new Map(), unsteady: new Map() };
}

/** Start of the days that learning may look at; an unsteady or once learnt bin looks at the newest ones alone. */
function learningFrom(baseline: Baseline, bin: string, now: number): number {
  const yardstick = baseline.yardsticks.get(bin);
  const from =
    yardstick?.stale === true
      ? Math.max(baseline.since, Math.ceil(yardstick.visitedAt / DAY_MS) * DAY_MS)
      : baseline.since;
  if (!baseline.unsteady.has(bin)) return from;
  return Math.max(from, Math.floor(now / DAY_MS) * DAY_MS - LEARNING.unsteadyDays * DAY_MS);
}

/**
 * Looks whether a bin that is not learnt has become so; `now`: end of the newest closed hour. Returns what it lacks, null when
 * it is learnt from now on. Days before the first whole one after `since` never entered the sums.
 */
export function learnBin(
  baseline: Baseline,
  days: readonly DaySums[],
  bin: string,
  now: number,
): Lacking | null {
  const from = learningFrom(baseline, bin, now);
  const first = days.find((day) => day.start + DAY_MS > from && (day.cells.get(bin)?.ms ?? 0) > 0);
  const start = first?.start ?? from;
  const sums = sumDays(days, bin, start);
  const { dispersion } = dispersionOver([sums.spread]);
  const lacking: Lacking = {
    runningMs: Math.max(0, LEARNING.runningMs - sums.ms),
    days: Math.max(0, LEARNING.days - sums.days),
    pulses: Math.max(0, Math.ceil(LEARNING.effectivePulses * dispersion - sums.pulses)),
    unsteady: '',
  };
  if (lacking.runningMs > 0 || lacking.days > 0 || lacking.pulses > 0) {
    lacking.unsteady = baseline.unsteady.get(bin) ?? '';
    return lacking;
  }
  const counts = days
    .filter((day) => day.start >= start)
    .map((day) => ({
      start: day.start,
      pulses: day.cells.get(bin)?.pulses ?? 0,
      ms: day.cells.get(bin)?.ms ?? 0,
    }))
    .filter((day) => day.ms > 0);
  const { reason, dayDispersion } = judgeSteadiness(counts, dispersion);
  if (reason !== '') {
    baseline.unsteady.set(bin, reason);
    return { ...lacking, unsteady: reason };
  }
  baseline.unsteady.delete(bin);
  baseline.yardsticks.set(bin, {
    from: Math.max(start, baseline.since),
    to: now,
    pulses: sums.pulses,
    ms: sums.ms,
    days: sums.days,
    dispersion,
    dayDispersion,
    visitedAt: now,
    stale: false,
  });
  return null;
}

/** A yardstick that may be used. */
export function yardstickOf(baseline: Baseline, bin: string): Yardstick | null {
  const found = baseline.yardsticks.get(bin);
  return found === undefined || found.stale ? null : found;
}

export function stateOf(baseline: Baseline, bin: string): BaselineState {
  const found = baseline.yardsticks.get(bin);
  if (found === undefined) return 'learning';
  return found.stale ? 'stale' : 'learnt';
}

/** Marks what has grown too old or was not visited for too long; returns the bins that became stale. */
export function ageYardsticks(baseline: Baseline, plan: BaselinePlan, now: number): string[] {
  const stale: string[] = [];
  for (const [bin, yardstick] of baseline.yardsticks) {
    if (yardstick.stale) continue;
    if (now - yardstick.to <= plan.ageMaxMs && now - yardstick.visitedAt <= plan.unvisitedMaxMs) continue;
    yardstick.stale = true;
    stale.push(bin);
  }
  return stale;
}

/**
 * Forgets bins of which nothing is left: stale yardsticks of bins without a kept day, and such as cannot occur any more since the
 * edges are others, a day after the last visit. Returns the latter; what is kept of their days is learnt from, should they
 * come back.
 */
export function forgetBins(
  baseline: Baseline,
  days: readonly DaySums[],
  mayOccur: (bin: string) => boolean,
  now: number,
): string[] {
  const gone: string[] = [];
  const isKept = (bin: string): boolean => days.some(({ cells }) => (cells.get(bin)?.ms ?? 0) > 0);
  for (const [bin, { stale, visitedAt }] of baseline.yardsticks) {
    if (stale && !isKept(bin)) baseline.yardsticks.delete(bin);
    else if (now - visitedAt > DAY_MS && !mayOccur(bin)) gone.push(bin);
  }
  for (const bin of gone) baseline.yardsticks.delete(bin);
  for (const bin of baseline.unsteady.keys()) if (!isKept(bin)) baseline.unsteady.delete(bin);
  return gone;
}

/** Adds a late difference to a learning period that holds the hour. */
export function reviseYardstick(
  baseline: Baseline,
  bin: string,
  hour: number,
  pulses: number,
  ms: number,
): void {
  const yardstick = baseline.yardsticks.get(bin);
  if (yardstick === undefined || hour < yardstick.from || hour >= yardstick.to) return;
  yardstick.pulses += pulses;
  yardstick.ms += ms;
}

/** What the yardstick predicts for some exposure. */
export interface Expected {
  pulses: number;
  /** Σ φ e: variance of the count around it */
  variance: number;
  /** variance of the prediction itself, from what the yardstick does not know */
  doubt: number;
}

/**
 * Adds what `ms` of running in a bin should bring: pulses e = ms N/T, variance φ e, and the yardstick's own doubt
 * e² φ′/N with the larger of its dispersions, bins being independent of one another.
 */
export function addExpected(sum: Expected, yardstick: Yardstick, ms: number): void {
  const pulses = (ms * yardstick.pulses) / yardstick.ms;
  sum.pulses += pulses;
  sum.variance += pulses * yardstick.dispersion;
  sum.doubt += (pulses * pulses * Math.max(yardstick.dispersion, yardstick.dayDispersion)) / yardstick.pulses;
}
