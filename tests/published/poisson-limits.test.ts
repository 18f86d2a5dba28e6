/** Exact Poisson limits and what else rests on the gamma function, against printed values. */
import { describe, expect, it } from 'vitest';
import { gammaQuantile } from '../../src/stats/gamma-quantile.js';
import { poissonLimits, poissonLowerTail, poissonUpperTail } from '../../src/stats/poisson.js';
import { expectField, takeRecord, title } from './published.js';

interface Table {
  n: number[];
  conf: number;
}
interface Bounds {
  lower: number[];
  upper: number[];
}
interface OneSample {
  x: number;
  T: number;
  r0: number;
  conf: number;
}
describe('limits of a Poisson mean', () => {
  for (const id of ['A01-garwood-95', 'A02-garwood-95-highprec']) {
    const record = takeRecord<Table, Bounds>(id);
    it(title(record), () => {
      const limits = record.inputs.n.map((n) => poissonLimits(n, record.inputs.conf));
      expectField(
        record,
        'lower',
        limits.map((l) => l.lower),
      );
      expectField(
        record,
        'upper',
        limits.map((l) => l.upper),
      );
    });
  }

  const nickel = takeRecord<OneSample, { rate: number; ci: number[]; p_below: number }>(
    'A03-r-poisson-test-welsh-nickel',
  );
  it(title(nickel), () => {
    const { x, T, r0, conf } = nickel.inputs;
    const { lower, upper } = poissonLimits(x, conf);
    expectField(nickel, 'rate', x / T);
    expectField(nickel, 'ci', [lower / T, upper / T]);
    // the printed p-value is only "below 2.2e-16"; twice the upper tail bounds it
    expect(2 * poissonUpperTail(x, r0 * T)).toBeLessThan(nickel.expected.p_below);
  });

  // score, Wald, Byar and Jeffreys intervals and the score test are other definitions, which we do not use
  const rate = takeRecord<OneSample, { exact: number[]; p_central: number }>('A04-desctools-15-400');
  it(title(rate), () => {
    const { x, T, r0, conf } = rate.inputs;
    const { lower, upper } = poissonLimits(x, conf);
    expectField(rate, 'exact', [lower / T, upper / T]);
    expectField(rate, 'p_central', 2 * Math.min(poissonLowerTail(x, r0 * T), poissonUpperTail(x, r0 * T)));
  });

  type Zero = Record<'upper_one_sided_95' | 'upper_two_sided_95' | 'upper_one_sided_99', number>;
  const zero = takeRecord<{ n: number }, Zero>('A08-zero-events');
  it(title(zero), () => {
    const { n } = zero.inputs;
    expectField(zero, 'upper_one_sided_95', poissonLimits(n, 0.9).upper);
    expectField(zero, 'upper_two_sided_95', poissonLimits(n, 0.95).upper);
    expectField(zero, 'upper_one_sided_99', poissonLimits(n, 0.98).upper);
    expect(poissonLimits(n, 0.95).lower).toBe(0);
  });
});

describe('distribution functions', () => {
  const chiSquare = takeRecord<{ df: number[]; p: number[] }, { q: number[] }>('J01-nist-chi-square-table');
  it(title(chiSquare), () => {
    const { df, p } = chiSquare.inputs;
    expectField(
      chiSquare,
      'q',
      df.map((d, i) => 2 * gammaQuantile(p[i]!, d / 2)),
    );
  });

  const poisson = takeRecord<{ k: number[]; mu: number[] }, { cdf: number[] }>('J03-poisson-cdf');
  it(title(poisson), () => {
    const { k, mu } = poisson.inputs;
    expectField(
      poisson,
      'cdf',
      k.map((count, i) => poissonLowerTail(count, mu[i]!)),
    );
  });
});
