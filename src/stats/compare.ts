/**
 * Like with like: how many times as often one side discharges as the other, under conditions that both have met. One function for three
 * questions: a sensor and its baseline, a motor and its sisters, before and after a remedy.
 */
import { type DayCount, jackknifeDays } from './jackknife.js';
import { compareStrata, silentSideLimit, type Stratum } from './mantel-haenszel.js';
import { conditionalRatioLimits, testRatio } from './rate-ratio.js';
import { studentUpperQuantile, studentUpperTail } from './student.js';

/**
 * What a side counted in a condition bin. `phi`: dispersion of its counts there; below 1 it is taken as 1. `phiFreedom`: blocks less
 * one that φ was estimated from; null or absent: taken as known, which makes the limits a little too narrow below 50.
 */
export interface BinCount {
  readonly bin: string;
  readonly pulses: number;
  readonly exposureMs: number;
  readonly phi: number;
  readonly phiFreedom?: number | null;
}

export interface CompareSide {
  /** each bin once */
  readonly bins: readonly BinCount[];
  /** the same counts by day, where the periods are of days; null: not known, or too short */
  readonly days: readonly DayCount[] | null;
}

export interface CompareOptions {
  /** two-sided, 0 < confidence < 1 */
  readonly confidence: number;
  /** the ratio that the p-values are against, above 0; 1: equal rates */
  readonly nullRatio: number;
}

export type CompareMethod = 'conditional-exact' | 'mantel-haenszel' | 'jackknife';

/** Why a bin says nothing: only one side has been there, or nobody. */
export type LeftOutReason = 'only-a' | 'only-b' | 'no-exposure';

export interface Comparison {
  /** a / b. Null: b has no pulses in the shared bins. 0: a has none */
  ratio: number | null;
  lower: number;
  /** null: no upper limit */
  upper: number | null;
  confidence: number;
  /** null: no bin is shared, so nothing can be said, and lower is 0, upper null */
  method: CompareMethod | null;
  /** of (a, or more) and (a, or less) against the null ratio, and two-sided central as the limits are; 1 where nothing can be said */
  p: { nullRatio: number; greater: number; less: number; twoSided: number };
  /** exposure in the shared bins, each side's own, and Σ over bins of the smaller */
  exposureMs: { a: number; b: number; shared: number };
  pulses: { a: number; b: number };
  binsUsed: string[];
  binsLeftOut: { bin: string; reason: LeftOutReason; exposureMs: number }[];
  /** variance of ln ratio over that of Poisson counts; for exact limits the φ by which the counts were divided */
  dispersion: number;
  /** days of the jackknife; null: another method */
  days: number | null;
}

/** Pulses of the poorer side below which exact limits are worth having: our choice; above, both kinds agree to a few percent. */
export const FEW_PULSES = 50;

/** Largest φ that counts as near 1: our choice; limits of Poisson counts would then be 12 % too narrow. */
export const PHI_NEAR_ONE = 1.25;

/** Running days on a side below which the jackknife is not used: our choice, a baseline has as many. */
export const JACKKNIFE_DAYS_MIN = 7;

interface Shared extends Stratum {
  readonly bin: string;
}

/** What a method answers. */
type Answer = Pick<Comparison, 'ratio' | 'lower' | 'upper' | 'method' | 'dispersion' | 'days'> & {
  greater: number;
  less: number;
};

function indexBins(bins: readonly BinCount[]): Map<string, BinCount> {
  const found = new Map<string, BinCount>();
  for (const bin of bins) {
    if (found.has(bin.bin)) throw new RangeError(`compare: the bin ${bin.bin} comes twice on one side`);
    if (!(bin.pulses >= 0 && bin.exposureMs >= 0)) {
      throw new RangeError(`compare: bin ${bin.bin} has ${bin.pulses} pulses in ${bin.exposureMs} ms`);
    }
    found.set(bin.bin, bin);
  }
  return found;
}

/** Bins with exposure on both sides, and the others with the reason. In the order of a, then those that only b knows. */
function shareBins(a: CompareSide, b: CompareSide): { shared: Shared[]; leftOut: Comparison['binsLeftOut'] } {
  const ofA = indexBins(a.bins);
  const ofB = indexBins(b.bins);
  const shared: Shared[] = [];
  const leftOut: Comparison['binsLeftOut'] = [];
  for (const bin of new Set([...ofA.keys(), ...ofB.keys()])) {
    const inA = ofA.get(bin);
    const inB = ofB.get(bin);
    const exposureA = inA?.exposureMs ?? 0;
    const exposureB = inB?.exposureMs ?? 0;
    if (inA !== undefined && inB !== undefined && exposureA > 0 && exposureB > 0) {
      shared.push({
        bin,
        pulsesA: inA.pulses,
        exposureA,
        phiA: Math.max(1, inA.phi),
        freedomA: inA.phiFreedom ?? Infinity,
        pulsesB: inB.pulses,
        exposureB,
        phiB: Math.max(1, inB.phi),
        freedomB: inB.phiFreedom ?? Infinity,
      });
    } else {
      const reason = exposureA > 0 ? 'only-a' : exposureB > 0 ? 'only-b' : 'no-exposure';
      leftOut.push({ bin, reason, exposureMs: exposureA + exposureB });
    }
  }
  return { shared, leftOut };
}

/** A side without pulses: ratio 0 or none, one limit from what the other side would have counted there. */
function answerSilent(shared: readonly Shared[], isASilent: boolean, options: CompareOptions): Answer {
  const bins = shared.map((s) => ({
    pulses: isASilent ? s.pulsesB : s.pulsesA,
    exposure: isASilent ? s.exposureB : s.exposureA,
    silentExposure: isASilent ? s.exposureA : s.exposureB,
    phi: Math.max(s.phiA, s.phiB),
  }));
  const limit = silentSideLimit(bins, (1 - options.confidence) / 2);
  const nullOfSilent = isASilent ? options.nullRatio : 1 / options.nullRatio;
  const reach = bins.reduce(
    (sum, { pulses, phi, silentExposure, exposure }) =>
      sum + (pulses / phi) * Math.log1p((nullOfSilent * silentExposure) / exposure),
    0,
  );
  const p = Math.exp(-reach);
  const isNothing = limit === Infinity;
  return {
    ratio: isASilent && !isNothing ? 0 : null,
    lower: isASilent || isNothing ? 0 : 1 / limit,
    upper: isASilent && !isNothing ? limit : null,
    method: 'conditional-exact',
    dispersion: bins.reduce((most, { phi }) => Math.max(most, phi), 1),
    days: null,
    greater: isASilent ? 1 : p,
    less: isASilent ? p : 1,
  };
}

/** One bin: the exact limits, on counts divided by the larger of the two dispersions. */
function answerExact(only: Shared, { confidence, nullRatio }: CompareOptions): Answer {
  const phi = Math.max(only.phiA, only.phiB);
  const a = { pulses: only.pulsesA / phi, exposure: only.exposureA };
  const b = { pulses: only.pulsesB / phi, exposure: only.exposureB };
  const { lower, upper } = conditionalRatioLimits(a, b, confidence);
  const { greater, less } = testRatio(a, b, nullRatio);
  const ratio = a.pulses / a.exposure / (b.pulses / b.exposure);
  return { ratio, lower, upper, method: 'conditional-exact', dispersion: phi, days: null, greater, less };
}

/** Limits symmetric in ln ratio: by the jackknife over days where there are enough, else by the dispersions of the bins. */
function answerLog(
  shared: readonly Shared[],
  a: CompareSide,
  b: CompareSide,
  { confidence, nullRatio }: CompareOptions,
): Answer {
  const whole = compareStrata(shared);
  const used = new Set(shared.map(({ bin }) => bin));
  const pick = (side: CompareSide): DayCount[] => (side.days ?? []).filter(({ bin }) => used.has(bin));
  const jackknife = jackknifeDays(pick(a), pick(b), JACKKNIFE_DAYS_MIN);
  const variance = jackknife?.lnVariance ?? whole.lnVariance;
  const freedom = jackknife?.freedom ?? whole.freedom;
  const sd = Math.sqrt(variance);
  const width = sd * studentUpperQuantile((1 - confidence) / 2, freedom);
  const score = Math.log(whole.ratio / nullRatio) / sd;
  return {
    ratio: whole.ratio,
    lower: whole.ratio * Math.exp(-width),
    upper: whole.ratio * Math.exp(width),
    method: jackknife === null ? 'mantel-haenszel' : 'jackknife',
    dispersion: variance / whole.lnVariancePoisson,
    days: jackknife?.days ?? null,
    greater: studentUpperTail(score, freedom),
    less: studentUpperTail(-score, freedom),
  };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/**
 * Ratio a / b over the bins that both sides have visited, with limits. Method: a side without pulses, and one bin with fewer than 50
 * pulses on a side and φ to 1.25, exact conditional limits; at least 7 days on each side, a jackknife over days; else the stratified
 * ratio with the dispersions of the bins. Bins that only one side has visited say nothing and are listed.
 * Throws RangeError for a bin that comes twice on a side, negative pulses or exposures, a confidence or null ratio out of range.
 * Source: Tallypost's design, section 6; each method names its own.
 */
export function compare(a: CompareSide, b: CompareSide, options: CompareOptions): Comparison {
  const { confidence, nullRatio } = options;
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`compare: confidence must lie between 0 and 1, not ${confidence}`);
  }
  if (!(nullRatio > 0)) throw new RangeError(`compare: the null ratio must be above 0, not ${nullRatio}`);
  const { shared, leftOut } = shareBins(a, b);
  const pulses = { a: sum(shared.map((s) => s.pulsesA)), b: sum(shared.map((s) => s.pulsesB)) };
  const [only] = shared;
  const isExact =
    shared.length === 1 &&
    Math.min(pulses.a, pulses.b) < FEW_PULSES &&
    Math.max(only!.phiA, only!.phiB) <= PHI_NEAR_ONE;
  const answer =
    pulses.a === 0 || pulses.b === 0
      ? answerSilent(shared, pulses.a === 0, options)
      : isExact
        ? answerExact(only!, options)
        : answerLog(shared, a, b, options);
  const { greater, less, ...found } = answer;
  return {
    ...found,
    method: shared.length === 0 ? null : found.method,
    confidence,
    p: { nullRatio, greater, less, twoSided: Math.min(1, 2 * Math.min(greater, less)) },
    exposureMs: {
      a: sum(shared.map((s) => s.exposureA)),
      b: sum(shared.map((s) => s.exposureB)),
      shared: sum(shared.map((s) => Math.min(s.exposureA, s.exposureB))),
    },
    pulses,
    binsUsed: shared.map(({ bin }) => bin),
    binsLeftOut: leftOut,
  };
}
