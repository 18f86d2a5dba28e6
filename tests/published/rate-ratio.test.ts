/** Two rates compared, against printed limits and p-values. */
import { describe, expect, it } from 'vitest';
import { normalTwoSided, normalUpperQuantile, normalUpperTail } from '../../src/stats/normal.js';
import { poissonUpperTail } from '../../src/stats/poisson.js';
import { conditionalRatioLimits, type Count, testRatio } from '../../src/stats/rate-ratio.js';
import { expectField, takeRecord, title } from './published.js';

interface Inputs {
  x: [number, number];
  T: [number, number];
  r0: number;
  conf: number;
}

function sidesOf({ x, T }: Pick<Inputs, 'x' | 'T'>): [Count, Count] {
  return [
    { pulses: x[0], exposure: T[0] },
    { pulses: x[1], exposure: T[1] },
  ];
}

function ratioOf([a, b]: [Count, Count]): number {
  return a.pulses / a.exposure / (b.pulses / b.exposure);
}

/** Probability of k pulses. */
function probability(k: number, mean: number): number {
  return poissonUpperTail(k, mean) - poissonUpperTail(k + 1, mean);
}

/** Two-sided p that adds all outcomes no more probable than the one seen, by the binomial distribution of side a. */
function minimumLikelihood(inputs: Inputs): number {
  const [a, b] = sidesOf(inputs);
  const all = a.pulses + b.pulses;
  const chance = (k: number): number => {
    const above = (n: number): number =>
      n > all ? 0 : testRatio({ ...a, pulses: n }, { ...b, pulses: all - n }, inputs.r0).greater;
    return above(k) - above(k + 1);
  };
  const seen = chance(a.pulses) * (1 + 1e-7);
  let p = 0;
  for (let k = 0; k <= all; k++) if (chance(k) <= seen) p += chance(k);
  return p;
}

/**
 * Test of equal rates on the probability of all pairs of counts (E-test), with the standard error from the two counts (`wald`) or
 * from their sum. We do not use it: it has no limits to go with it. Here it holds our Poisson tails against print.
 */
function eTest(inputs: Inputs, isWald: boolean): { greater: number; twoSided: number } {
  const { x, T } = inputs;
  const statistic = (i: number, j: number): number => {
    const variance = isWald
      ? i / T[0] ** 2 + j / T[1] ** 2
      : (i + j) / (T[0] + T[1]) / T[0] + (i + j) / (T[0] + T[1]) / T[1];
    return variance === 0 ? 0 : (i / T[0] - j / T[1]) / Math.sqrt(variance);
  };
  const rate = (x[0] + x[1]) / (T[0] + T[1]);
  const first = Array.from({ length: 200 }, (_, k) => probability(k, rate * T[0]));
  const second = Array.from({ length: 200 }, (_, k) => probability(k, rate * T[1]));
  const seen = statistic(x[0], x[1]) * (1 - 1e-12);
  let greater = 0;
  let twoSided = 0;
  first.forEach((p, i) =>
    second.forEach((q, j) => {
      if (statistic(i, j) >= seen) greater += p * q;
      if (Math.abs(statistic(i, j)) >= seen) twoSided += p * q;
    }),
  );
  return { greater, twoSided };
}

describe('exact limits of the ratio of two rates', () => {
  type Eba = Record<'ratio' | 'p_minlike' | 'expected_count1', number> & { ci: number[] };
  const eba = takeRecord<Inputs, Eba>('B01-r-poisson-test-eba1977');
  it(title(eba), () => {
    const [a, b] = sidesOf(eba.inputs);
    const { lower, upper } = conditionalRatioLimits(a, b, eba.inputs.conf);
    expectField(eba, 'ratio', ratioOf([a, b]));
    expectField(eba, 'ci', [lower, upper]);
    expectField(eba, 'p_minlike', minimumLikelihood(eba.inputs));
    expectField(eba, 'expected_count1', ((a.pulses + b.pulses) * a.exposure) / (a.exposure + b.exposure));
  });

  // two fields are limits by minimum likelihood and of Blaker, which are other definitions: see README.md
  type Three = Record<'ratio' | 'p_minlike' | 'p_central', number> & { ci: number[] };
  const three = takeRecord<Inputs, Three>('B02-exactci-2-10');
  it(title(three), () => {
    const [a, b] = sidesOf(three.inputs);
    const { lower, upper } = conditionalRatioLimits(a, b, three.inputs.conf);
    expectField(three, 'ratio', ratioOf([a, b]));
    expectField(three, 'ci', [lower, upper]);
    expectField(three, 'p_central', testRatio(a, b, three.inputs.r0).twoSided);
    expectField(three, 'p_minlike', minimumLikelihood(three.inputs));
  });

  type Border = Record<'ratio' | 'p_central' | 'rate1' | 'rate2', number> & { ci: number[] };
  const border = takeRecord<Inputs, Border>('B03-rateratio-2-9');
  it(title(border), () => {
    const [a, b] = sidesOf(border.inputs);
    const { lower, upper } = conditionalRatioLimits(a, b, border.inputs.conf);
    expectField(border, 'ratio', ratioOf([a, b]));
    expectField(border, 'ci', [lower, upper]);
    const { twoSided } = testRatio(a, b);
    expectField(border, 'p_central', twoSided);
    expect(twoSided > 0.05).toBe(upper > 1);
    expectField(border, 'rate1', a.pulses / a.exposure);
    expectField(border, 'rate2', b.pulses / b.exposure);
  });

  type Gu = Record<
    | `p_${'wald' | 'score' | 'log_wald' | 'sqrt' | 'exact_conditional' | 'mid' | 'etest_wald' | 'etest_score'}`
    | `z_${'wald' | 'score' | 'log'}`,
    number
  >;
  const gu = takeRecord<Inputs, Gu>('B05-gu-2008-example1');
  it(title(gu), () => {
    const [a, b] = sidesOf(gu.inputs);
    const d = a.exposure / b.exposure;
    const excess = a.pulses - b.pulses * d;
    const wald = excess / Math.sqrt(a.pulses + b.pulses * d * d);
    const score = excess / Math.sqrt((a.pulses + b.pulses) * d);
    const log = Math.log(ratioOf([a, b])) / Math.sqrt(1 / a.pulses + 1 / b.pulses);
    const root = (2 * (Math.sqrt(a.pulses + 3 / 8) - Math.sqrt(d * (b.pulses + 3 / 8)))) / Math.sqrt(1 + d);
    expectField(gu, 'z_wald', wald);
    expectField(gu, 'z_score', score);
    expectField(gu, 'z_log', log);
    expectField(gu, 'p_wald', normalUpperTail(wald));
    expectField(gu, 'p_score', normalUpperTail(score));
    expectField(gu, 'p_log_wald', normalUpperTail(log));
    expectField(gu, 'p_sqrt', normalUpperTail(root));
    expectField(gu, 'p_exact_conditional', testRatio(a, b).greater);
    expectField(gu, 'p_mid', testRatio(a, b).midGreater);
    expectField(gu, 'p_etest_wald', eTest(gu.inputs, true).greater);
    expectField(gu, 'p_etest_score', eTest(gu.inputs, false).greater);
  });

  type Null = Record<'exact_greater' | 'exact_less' | 'mid_greater' | 'mid_less', number> & {
    central_ci_r1: number[];
  };
  const other = takeRecord<Inputs, Null>('B06-exactci-gu-nonunit-null');
  it(title(other), () => {
    const [a, b] = sidesOf(other.inputs);
    const test = testRatio(a, b, other.inputs.r0);
    expectField(other, 'exact_greater', test.greater);
    expectField(other, 'exact_less', test.less);
    expectField(other, 'mid_greater', test.midGreater);
    expectField(other, 'mid_less', test.midLess);
    const { lower, upper } = conditionalRatioLimits(a, b, 0.95);
    expectField(other, 'central_ci_r1', [lower, upper]);
  });

  type Stata = Record<'ratio' | 'rate_difference' | 'p_mid_greater' | 'p_mid_two', number> &
    Record<'ci' | 'rd_ci', number[]>;
  const stata = takeRecord<Inputs, Stata>('B07-fluoroscopy-epitab');
  it(title(stata), () => {
    const [a, b] = sidesOf(stata.inputs);
    const { lower, upper } = conditionalRatioLimits(a, b, stata.inputs.conf);
    expectField(stata, 'ratio', ratioOf([a, b]));
    expectField(stata, 'ci', [lower, upper]);
    const test = testRatio(a, b);
    expectField(stata, 'p_mid_greater', test.midGreater);
    expectField(stata, 'p_mid_two', 2 * Math.min(test.midGreater, test.midLess));
    const difference = a.pulses / a.exposure - b.pulses / b.exposure;
    const half =
      normalUpperQuantile(0.025) * Math.sqrt(a.pulses / a.exposure ** 2 + b.pulses / b.exposure ** 2);
    expectField(stata, 'rate_difference', difference);
    expectField(stata, 'rd_ci', [difference - half, difference + half]);
  });

  type Smallest = Record<
    'p_etest_two_sided' | 'p_etest_greater' | 'p_conditional_greater' | 'p_conditional_two_sided',
    number
  >;
  const smallest = takeRecord<Inputs, Smallest>('B09-etest-0-vs-3');
  it(title(smallest), () => {
    const [a, b] = sidesOf(smallest.inputs);
    expectField(smallest, 'p_conditional_greater', testRatio(a, b).greater);
    expectField(smallest, 'p_conditional_two_sided', testRatio(a, b).twoSided);
    expectField(smallest, 'p_etest_two_sided', eTest(smallest.inputs, true).twoSided);
    expectField(smallest, 'p_etest_greater', eTest(smallest.inputs, true).greater);
  });
});

describe('normal tails', () => {
  it('agree with the quantiles from 0.5 to 1e-12', () => {
    for (const tail of [0.5, 0.3, 0.025, 1e-3, 1e-6, 1e-12]) {
      expect(normalUpperTail(normalUpperQuantile(tail)) / tail).toBeCloseTo(1, 12);
      expect(normalTwoSided(-normalUpperQuantile(tail)) / (2 * tail)).toBeCloseTo(1, 12);
    }
  });
});
