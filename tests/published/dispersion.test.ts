/** Dispersion of famous counts, and the negative binomial distribution fitted to two of them. */
import { describe, expect, it } from 'vitest';
import { dispersionOfBlocks, pearson } from '../../src/stats/dispersion.js';
import { gammaQ } from '../../src/stats/gamma.js';
import { negativeBinomialUpperTail } from '../../src/stats/negative-binomial.js';
import { poissonUpperTail } from '../../src/stats/poisson.js';
import { expectField, type Frequencies, takeRecord, title, unfoldCounts } from './published.js';

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/** φ of counts in equal blocks, by the list of blocks and by their sums: both must agree. */
function dispersionOf(x: readonly number[]): number {
  const direct = dispersionOfBlocks(x, new Array<number>(x.length).fill(1))!;
  const fromSums = pearson(sum(x.map((v) => v * v)), sum(x), x.length, x.length)!;
  expect(fromSums / direct).toBeCloseTo(1, 12);
  return direct;
}

/** Probability above a chi-square statistic. */
function chiSquareTail(statistic: number, df: number): number {
  return gammaQ(df / 2, statistic / 2);
}

describe('dispersion', () => {
  interface Alpha {
    intervals: number;
    particles: number;
    mean: number;
    variance: number;
    index: number;
    index_chi2: number;
    expected_lambda_3_870: number[];
    chi2_11_classes: number;
    p_df9: number;
  }
  const alpha = takeRecord<Frequencies, Alpha>('C01-rutherford-geiger');
  it(title(alpha), () => {
    const x = unfoldCounts(alpha.inputs);
    const mean = sum(x) / x.length;
    const index = dispersionOf(x);
    expectField(alpha, 'intervals', x.length);
    expectField(alpha, 'particles', sum(x));
    expectField(alpha, 'mean', mean);
    expectField(alpha, 'variance', index * mean);
    expectField(alpha, 'index', index);
    expectField(alpha, 'index_chi2', index * (x.length - 1));
    const fitted = Array.from({ length: 11 }, (_, k) => {
      const upTo = k === 10 ? 0 : poissonUpperTail(k + 1, 3.87);
      return x.length * (poissonUpperTail(k, 3.87) - upTo);
    });
    expectField(alpha, 'expected_lambda_3_870', fitted);
    const seen = fitted.map((_, k) => x.filter((v) => (k === 10 ? v >= 10 : v === k)).length);
    const fit = sum(seen.map((v, k) => (v - fitted[k]!) ** 2 / fitted[k]!));
    expectField(alpha, 'chi2_11_classes', fit);
    expectField(alpha, 'p_df9', chiSquareTail(fit, 9));
  });

  type Horses = Record<'n' | 'total' | 'mean' | 'variance_n' | 'variance_n_minus_1', number> & {
    expected: number[];
  };
  const horses = takeRecord<Frequencies, Horses>('C02-horse-kicks');
  it(title(horses), () => {
    const x = unfoldCounts(horses.inputs);
    const mean = sum(x) / x.length;
    const variance = dispersionOf(x) * mean;
    expectField(horses, 'n', x.length);
    expectField(horses, 'total', sum(x));
    expectField(horses, 'mean', mean);
    expectField(horses, 'variance_n', (variance * (x.length - 1)) / x.length);
    expectField(horses, 'variance_n_minus_1', variance);
    const fitted = [0, 1, 2, 3, 4].map(
      (k) => x.length * (poissonUpperTail(k, mean) - poissonUpperTail(k + 1, mean)),
    );
    expectField(horses, 'expected', fitted);
  });

  // the fit of k by maximum likelihood (k_mle) is no part of the program
  type Accidents = Record<'n' | 'mean' | 'variance_n_minus_1' | 'index' | 'k_moment', number>;
  const accidents = takeRecord<Frequencies, Accidents>('C04-greenwood-yule');
  it(title(accidents), () => {
    const x = unfoldCounts(accidents.inputs);
    const mean = sum(x) / x.length;
    const index = dispersionOf(x);
    expectField(accidents, 'n', x.length);
    expectField(accidents, 'mean', mean);
    expectField(accidents, 'variance_n_minus_1', index * mean);
    expectField(accidents, 'index', index);
    // φ = 1 + mean / k
    expectField(accidents, 'k_moment', mean / (index - 1));
  });

  // k_mle is taken from the record to give the fitted frequencies; its standard error is no part of the program
  type Mites = Record<'n' | 'mean' | 'variance_n_minus_1' | 'k_moment' | 'k_mle', number> & {
    expected: number[];
  };
  const mites = takeRecord<Frequencies, Mites>('C05-bliss-fisher-mites');
  it(title(mites), () => {
    const x = unfoldCounts(mites.inputs);
    const mean = sum(x) / x.length;
    const index = dispersionOf(x);
    expectField(mites, 'n', x.length);
    expectField(mites, 'mean', mean);
    expectField(mites, 'variance_n_minus_1', index * mean);
    expectField(mites, 'k_moment', mean / (index - 1));
    const dispersion = 1 + mean / mites.expected.k_mle;
    const tail = (k: number): number => negativeBinomialUpperTail(k, mean, dispersion);
    expectField(
      mites,
      'expected',
      mites.inputs.k.map((k) => x.length * (tail(k) - tail(k + 1))),
    );
  });

  type Test = Record<'ratio' | 'statistic' | 'df' | 'p', number>;
  const chart = takeRecord<{ x: number[] }, Test>('C07-overdispersion-wetherill-brown');
  it(title(chart), () => {
    const { x } = chart.inputs;
    const ratio = dispersionOf(x);
    const df = x.length - 1;
    expectField(chart, 'ratio', ratio);
    expectField(chart, 'statistic', ratio * df);
    expectField(chart, 'df', df);
    expectField(chart, 'p', chiSquareTail(ratio * df, df));
  });

  // the deviance is another statistic, which we do not use. The fitted counts stand for exposures: their common rate is 1
  type Ships = Record<'pearson' | 'df' | 'dispersion', number>;
  const ships = takeRecord<{ observed: number[]; fitted: number[]; parameters: number }, Ships>(
    'C08-mccullagh-nelder-ships',
  );
  it(title(ships), () => {
    const { observed, fitted, parameters } = ships.inputs;
    const df = observed.length - parameters;
    const q = sum(observed.map((x, i) => x ** 2 / fitted[i]!));
    const found = pearson(q, sum(observed), sum(fitted), observed.length, parameters)!;
    expectField(ships, 'df', df);
    expectField(ships, 'pearson', found * df);
    expectField(ships, 'dispersion', found);
  });

  type Index = Record<'mean' | 'variance' | 'index' | 'chi2' | 'p', number>;
  const discoveries = takeRecord<{ x: number[] }, Index>('C10-discoveries');
  it(title(discoveries), () => {
    const { x } = discoveries.inputs;
    const mean = sum(x) / x.length;
    const index = dispersionOf(x);
    expectField(discoveries, 'mean', mean);
    expectField(discoveries, 'variance', index * mean);
    expectField(discoveries, 'index', index);
    expectField(discoveries, 'chi2', index * (x.length - 1));
    expectField(discoveries, 'p', chiSquareTail(index * (x.length - 1), x.length - 1));
  });
});
