/** Where a series of counts changed its rate, and whether it did: the split that explains the counts best, judged against all splits. */
import { dispersionOfBlocks } from './dispersion.js';

export interface Block {
  readonly pulses: number;
  /** above 0, any unit, the same in all blocks */
  readonly exposure: number;
}

export interface Change {
  /** blocks before the change: it lies between `index − 1` and `index` */
  index: number;
  /** the 95 % range of that index */
  earliest: number;
  latest: number;
  rateBefore: number;
  rateAfter: number;
  /** twice the gain in ln likelihood of Poisson counts, before division by φ */
  likelihoodRatio: number;
  dispersion: number;
  /** that the best of all splits would gain as much by chance */
  p: number;
}

/** Drop of likelihood ratio / φ that bounds the range: −2 ln(1 − √0.95). Source: see `findChange`. */
const RANGE_DROP = 7.352;

/** n ln(n / e), 0 for n = 0. */
function lnTerm(pulses: number, exposure: number): number {
  return pulses > 0 ? pulses * Math.log(pulses / exposure) : 0;
}

/**
 * P(max of likelihood ratios over the splits of n blocks ≥ `ratio`) without a change, at most 1.
 * Source: E. Gombay and L. Horváth, On the rate of approximations for maximum likelihood tests in change-point models, Journal of
 * Multivariate Analysis 56 (1996) 120-152, with their trimming (ln n)^1.5 / n.
 */
export function changeProbability(ratio: number, n: number): number {
  if (!(ratio > 1)) return 1;
  const trimmed = Math.min(0.49, Math.log(n) ** 1.5 / n);
  const reach = 2 * Math.log((1 - trimmed) / trimmed);
  const x = Math.sqrt(ratio);
  const tail = ((x * Math.exp(-ratio / 2)) / Math.sqrt(2 * Math.PI)) * (reach - reach / ratio + 4 / ratio);
  return Math.min(1, Math.max(0, tail));
}

/**
 * A ratio over a φ that was estimated from the same n blocks, brought to what it would be over a known one: n ln(1 + ratio / (n − 2)).
 * Source: likelihood ratio of two normal means with a common unknown variance.
 */
function scaleRatio(ratio: number, n: number): number {
  return n * Math.log1p(ratio / (n - 2));
}

/** Likelihood ratio of a change before each block 1 … n − 1; entry i is for index i + 1. */
export function likelihoodRatios(blocks: readonly Block[]): number[] {
  const pulses = blocks.reduce((sum, block) => sum + block.pulses, 0);
  const exposure = blocks.reduce((sum, block) => sum + block.exposure, 0);
  let before = 0;
  let exposureBefore = 0;
  return blocks.slice(0, -1).map((block) => {
    before += block.pulses;
    exposureBefore += block.exposure;
    const parts = lnTerm(before, exposureBefore) + lnTerm(pulses - before, exposure - exposureBefore);
    return Math.max(0, 2 * (parts - lnTerm(pulses, exposure)));
  });
}

/** Pearson dispersion about two rates, each over its own blocks; at least 1. */
function dispersionOfParts(blocks: readonly Block[], index: number): number {
  const parts = [blocks.slice(0, index), blocks.slice(index)];
  let squares = 0;
  for (const part of parts) {
    const found = dispersionOfBlocks(
      part.map(({ pulses }) => pulses),
      part.map(({ exposure }) => exposure),
    );
    squares += (found ?? 0) * (part.length - 1);
  }
  return Math.max(1, squares / (blocks.length - 2));
}

/**
 * The likeliest single change, with at least 2 blocks on either side: one odd block is no change. `dispersion`: φ of the
 * blocks; null: taken from the blocks about the two rates, at least 1. Null: fewer than 6 blocks, no pulses, or an exposure that is not above 0.
 * The range holds the splits whose ratio / φ lies within −2 ln(1 − √0.95) = 7.35 of the best: the two sides of a change are random walks
 * with drift, whose maxima are exponential. Source: maximum likelihood D. V. Hinkley, Biometrika 57 (1970) 1-17; range D. Siegmund,
 * Confidence sets in change-point problems, International Statistical Review 56 (1988) 31-48; division by φ as for quasi-Poisson.
 */
export function findChange(blocks: readonly Block[], dispersion: number | null): Change | null {
  const n = blocks.length;
  if (n < 6 || blocks.some(({ exposure }) => !(exposure > 0))) return null;
  if (!blocks.some(({ pulses }) => pulses > 0)) return null;
  const ratios = likelihoodRatios(blocks).map((ratio, i) => (i === 0 || i === n - 2 ? 0 : ratio));
  const best = ratios.reduce((most, ratio, i) => (ratio > ratios[most]! ? i : most), 0);
  const index = best + 1;
  const phi = dispersion === null ? dispersionOfParts(blocks, index) : Math.max(1, dispersion);
  const within = (ratio: number): boolean => (ratios[best]! - ratio) / phi <= RANGE_DROP;
  const rate = (part: readonly Block[]): number =>
    part.reduce((sum, { pulses }) => sum + pulses, 0) / part.reduce((sum, { exposure }) => sum + exposure, 0);
  return {
    index,
    earliest: ratios.findIndex(within) + 1,
    latest: ratios.findLastIndex(within) + 1,
    rateBefore: rate(blocks.slice(0, index)),
    rateAfter: rate(blocks.slice(index)),
    likelihoodRatio: ratios[best]!,
    dispersion: phi,
    p: changeProbability(dispersion === null ? scaleRatio(ratios[best]! / phi, n) : ratios[best]! / phi, n),
  };
}

/**
 * All changes with p below `alpha`, in order of time: the best split, then the best within each part, and so on; `dispersion` as for
 * `findChange`, null estimates it anew in each part. Source: L. Yu. Vostrikova, Soviet Mathematics Doklady 24 (1981) 55-59 (binary segmentation).
 */
export function findChanges(blocks: readonly Block[], dispersion: number | null, alpha: number): Change[] {
  const found = findChange(blocks, dispersion);
  if (found === null || !(found.p < alpha)) return [];
  const { index } = found;
  const shift = (change: Change): Change => ({
    ...change,
    index: change.index + index,
    earliest: change.earliest + index,
    latest: change.latest + index,
  });
  return [
    ...findChanges(blocks.slice(0, index), dispersion, alpha),
    found,
    ...findChanges(blocks.slice(index), dispersion, alpha).map(shift),
  ];
}
