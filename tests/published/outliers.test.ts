/** Medians, deviations from them, and critical values of outlier tests, against printed values. */
import { describe, expect, it } from 'vitest';
import { MAD_TO_SIGMA, median, medianDeviation } from '../../src/stats/median.js';
import { studentUpperQuantile } from '../../src/stats/student.js';
import { expectField, takeRecord, title } from './published.js';

function meanOf(x: readonly number[]): number {
  return x.reduce((a, b) => a + b, 0) / x.length;
}

/** Largest deviation from the mean over the standard deviation, and where it is. */
function farthest(x: readonly number[]): { g: number; index: number } {
  const mean = meanOf(x);
  const sd = Math.sqrt(x.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (x.length - 1));
  const off = x.map((v) => Math.abs(v - mean));
  const index = off.indexOf(Math.max(...off));
  return { g: off[index]! / sd, index };
}

/** Critical value of that statistic for n values, from our t quantile. */
function critical(n: number, tail: number): number {
  const t2 = studentUpperQuantile(tail / n, n - 2) ** 2;
  return ((n - 1) / Math.sqrt(n)) * Math.sqrt(t2 / (n - 2 + t2));
}

describe('outliers', () => {
  type Grubbs = Record<'G' | 'critical_one_sided' | 'critical_two_sided' | 'outlier', number>;
  const grubbs = takeRecord<{ x: number[]; alpha: number }, Grubbs>('D01-nist-grubbs');
  it(title(grubbs), () => {
    const { x, alpha } = grubbs.inputs;
    const { g, index } = farthest(x);
    expectField(grubbs, 'G', g);
    expectField(grubbs, 'outlier', x[index]!);
    expectField(grubbs, 'critical_one_sided', critical(x.length, alpha));
    expectField(grubbs, 'critical_two_sided', critical(x.length, alpha / 2));
  });

  type Esd = { R: number[]; lam: number[]; n_outliers: number };
  const esd = takeRecord<{ x: number[]; max_outliers: number; alpha: number }, Esd>(
    'D02-nist-generalized-esd',
  );
  it(title(esd), () => {
    const { max_outliers, alpha } = esd.inputs;
    const left = [...esd.inputs.x];
    const steps = Array.from({ length: max_outliers }, () => {
      const limit = critical(left.length, alpha / 2);
      const { g, index } = farthest(left);
      left.splice(index, 1);
      return { g, limit };
    });
    expectField(
      esd,
      'R',
      steps.map(({ g }) => g),
    );
    expectField(
      esd,
      'lam',
      steps.map(({ limit }) => limit),
    );
    expectField(esd, 'n_outliers', steps.findLastIndex(({ g, limit }) => g > limit) + 1);
  });

  type Modified = { abs_modified_z: number[]; flagged_indices: number[] };
  const modified = takeRecord<{ x: number[]; cutoff: number }, Modified>('D04-iglewicz-hoaglin');
  it(title(modified), () => {
    const { x, cutoff } = modified.inputs;
    const z = x.map((v) => (0.6745 * Math.abs(v - median(x)!)) / medianDeviation(x)!);
    expectField(modified, 'abs_modified_z', z);
    expectField(
      modified,
      'flagged_indices',
      z.flatMap((v, i) => (v > cutoff ? [i] : [])),
    );
  });

  // the location of Huber is another estimator, which we do not use
  const chem = takeRecord<{ x: number[] }, Record<'mean' | 'median' | 'mad', number>>('D06-mass-chem');
  it(title(chem), () => {
    const { x } = chem.inputs;
    expectField(chem, 'mean', meanOf(x));
    expectField(chem, 'median', median(x)!);
    // R scales by 1.4826
    expectField(chem, 'mad', 1.4826 * medianDeviation(x)!);
    expect(MAD_TO_SIGMA).toBeCloseTo(1.4826, 4);
    expect(median([])).toBeNull();
    expect(medianDeviation([])).toBeNull();
  });
});
