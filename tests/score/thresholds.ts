/**
 * Finds the thresholds of the slow look by simulation: how often a motor that did not change climbs over a height, when its
 * yardstick and its dispersion are estimates. Run by `npm run score -- --thresholds`; the table stands in
 * src/core/deviation/rise-threshold.ts.
 *
 * Model: an hour's effective count O/φ is a gamma variable of mean and variance a (as skew as bursts make it, more than a negative
 * binomial count); the yardstick is off by a gamma variable of 1/s² effective pulses; the dispersion by χ²/ν of 19 hours.
 */
import { openStream, type Random } from '../../simulator/random.js';
import { allowanceOf, nextHeight } from '../../src/core/deviation/rise.js';

export interface ThresholdRow {
  /** effective pulses of an hour, E/φ */
  effective: number;
  /** height that is climbed over once in so many hours of running; index as in RUN_LENGTHS_H */
  heights: number[];
}

export const RUN_LENGTHS_H = [1e3, 1e4, 1e5, 1e6] as const;
const EFFECTIVE = [0.1, 0.3, 1, 3, 10, 30, 100, 1000];
const DOUBTS = [0.02, 0.1];
const FREEDOM = 19;
const BIN = 0.05;
const BINS = 4000;

/** Marsaglia and Tsang (2000); below shape 1 by the power of a uniform draw. */
export function drawGamma(random: Random, shape: number): number {
  if (shape < 1) return drawGamma(random, shape + 1) * (1 - random.unit()) ** (1 / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = random.normal(0, 1);
    const v = (1 + c * x) ** 3;
    if (v <= 0) continue;
    const u = 1 - random.unit();
    if (Math.log(u) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v;
  }
}

/** Excursions by their greatest height, of `draws` motors over `hours` each. */
function countExcursions(random: Random, effective: number, doubt: number, draws: number, hours: number): Float64Array {
  const counts = new Float64Array(BINS);
  const known = 1 / doubt ** 2;
  for (let draw = 0; draw < draws; draw++) {
    const scale = drawGamma(random, known) / known;
    const spread = Math.max(1 / effective / 1e6, (2 * drawGamma(random, FREEDOM / 2)) / FREEDOM);
    const mean = effective * scale;
    const deviation = Math.sqrt(mean * spread);
    const allowance = allowanceOf(mean / spread, doubt);
    let height = 0;
    let most = 0;
    for (let hour = 0; hour < hours; hour++) {
      height = nextHeight(height, (drawGamma(random, effective) - mean) / deviation, allowance);
      if (height > most) most = height;
      if (height > 0 || most === 0) continue;
      counts[Math.min(BINS - 1, Math.floor(most / BIN))]! += 1;
      most = 0;
    }
    if (most > 0) counts[Math.min(BINS - 1, Math.floor(most / BIN))]! += 1;
  }
  return counts;
}

/** Height above which there is one excursion in `runLengthH` hours; beyond what was seen, on the line of the last two decades. */
function heightAt(counts: Float64Array, hours: number, runLengthH: number): number {
  let above = 0;
  for (let i = BINS - 1; i >= 0; i--) {
    above += counts[i]!;
    if (above > hours / runLengthH) return (i + 1) * BIN;
  }
  return 0;
}

/** One row for each size of hour; the worse of a well known and a barely known yardstick. */
export function findThresholds(seed: number, draws: number, hours: number): ThresholdRow[] {
  return EFFECTIVE.map((effective) => {
    const found = DOUBTS.map((doubt) => {
      const random = openStream(seed, 'threshold', String(effective), String(doubt));
      const counts = countExcursions(random, effective, doubt, draws, hours);
      return RUN_LENGTHS_H.map((length) => heightAt(counts, draws * hours, length));
    });
    return { effective, heights: RUN_LENGTHS_H.map((_, i) => Math.max(...found.map((row) => row[i]!))) };
  });
}
