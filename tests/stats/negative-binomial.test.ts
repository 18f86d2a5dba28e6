/** The negative binomial tail and the incomplete beta function under it. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { regularisedBeta } from '../../src/stats/beta.js';
import { negativeBinomialUpperTail } from '../../src/stats/negative-binomial.js';
import { poissonUpperTail } from '../../src/stats/poisson.js';
import { NEGATIVE_BINOMIAL_TAILS } from './reference.js';

function expectClose(found: number, wanted: number, relative: number, about: string): void {
  expect(Math.abs(found / wanted - 1), `${about}: ${found} against ${wanted}`).toBeLessThanOrEqual(relative);
}

describe('incomplete beta function', () => {
  it('is x^a for b = 1 and its mirror for a = 1', () => {
    for (const x of [1e-6, 0.2, 0.5, 0.7, 1 - 1e-9]) {
      for (const a of [0.01, 1, 7.5, 45]) {
        expectClose(regularisedBeta(a, 1, x), x ** a, 1e-12, `I_${x}(${a}, 1)`);
        expect(1 - regularisedBeta(1, a, x)).toBeCloseTo((1 - x) ** a, 14);
      }
    }
  });

  it('mirrors: I_x(a, b) + I_(1−x)(b, a) = 1', () => {
    const size = fc.double({ min: -2, max: 7, noNaN: true }).map((lg) => 10 ** lg);
    fc.assert(
      fc.property(size, size, fc.double({ min: 0.001, max: 0.999, noNaN: true }), (a, b, x) => {
        const y = 1 - x;
        expect(Math.abs(regularisedBeta(a, b, x, y) + regularisedBeta(b, a, y, x) - 1)).toBeLessThan(1e-12);
      }),
      { seed: 4, numRuns: 1000 },
    );
  });

  it('is the arcsine law for a = b = ½', () => {
    for (const x of [1e-8, 0.01, 0.3, 0.5, 0.8]) {
      expectClose(regularisedBeta(0.5, 0.5, x), (2 / Math.PI) * Math.asin(Math.sqrt(x)), 1e-14, `x = ${x}`);
    }
  });

  // lib-r-math.js cannot judge here: its pbeta and pnbinom are off by up to 1e-3 in the body of the distribution
  it('is a binomial sum for whole a and b', () => {
    // I_x(a, b) = P(at least a of a + b − 1 succeed), DLMF 8.17.5
    for (const [a, b, x] of [
      [2, 3, 0.1],
      [50, 80, 0.3],
      [500, 600, 0.4],
      [500, 600, 0.46],
      [10, 900, 0.015],
      [3, 1000, 1e-3],
    ] as const) {
      const n = a + b - 1;
      let [term, below, above] = [(1 - x) ** n, 0, 0];
      for (let k = 0; k <= n; k++) {
        if (k < a) below += term;
        else above += term;
        term *= ((n - k) / (k + 1)) * (x / (1 - x));
      }
      expectClose(regularisedBeta(a, b, x), above, 2e-12, `I_${x}(${a}, ${b})`);
      expectClose(regularisedBeta(b, a, 1 - x), below, 2e-12, `I_${1 - x}(${b}, ${a})`);
    }
  });

  it('has ends and refuses what lies beyond them', () => {
    expect([regularisedBeta(2, 3, 0), regularisedBeta(2, 3, 1)]).toEqual([0, 1]);
    expect(() => regularisedBeta(0, 1, 0.5)).toThrow(RangeError);
    expect(() => regularisedBeta(1, 1, 1.5)).toThrow(RangeError);
  });
});

describe('negative binomial upper tail', () => {
  it('meets sums of 50 digits, down to 1e-12 and up to a mean of 1e7', () => {
    expect(NEGATIVE_BINOMIAL_TAILS.length).toBeGreaterThan(20);
    for (const [x, mean, dispersion, wanted] of NEGATIVE_BINOMIAL_TAILS) {
      const found = negativeBinomialUpperTail(x, mean, dispersion);
      expectClose(found, wanted, 1e-10, `P(X ≥ ${x}), mean ${mean}, dispersion ${dispersion}`);
    }
  });

  it('is the sum of its terms', () => {
    for (const mean of [0.2, 3, 40]) {
      for (const dispersion of [1.01, 1.7, 6, 40, 300]) {
        for (const z of [-1, 0, 1, 3, 6]) {
          const x = Math.max(1, Math.ceil(mean + z * Math.sqrt(mean * dispersion)));
          const size = mean / (dispersion - 1);
          let [term, wanted] = [dispersion ** -size, 0];
          for (let k = 0; k <= x || term > 1e-18 * wanted; k++) {
            if (k >= x) wanted += term;
            term *= ((k + size) / (k + 1)) * (1 - 1 / dispersion);
          }
          const about = `P(X ≥ ${x}), mean ${mean}, dispersion ${dispersion}`;
          expectClose(negativeBinomialUpperTail(x, mean, dispersion), wanted, 1e-11, about);
        }
      }
    }
  });

  it('is Poisson without dispersion, and tends to it', () => {
    for (const [x, mean] of [
      [3, 0.4],
      [140, 100],
      [10_003_000, 1e7],
    ] as const) {
      const poisson = poissonUpperTail(x, mean);
      expect(negativeBinomialUpperTail(x, mean, 1)).toBe(poisson);
      expect(negativeBinomialUpperTail(x, mean, 0.7)).toBe(poisson);
      expectClose(negativeBinomialUpperTail(x, mean, 1 + 1e-12), poisson, 1e-9, `mean ${mean}`);
    }
  });

  it('keeps its digits where nearly every count is 0', () => {
    // P(X ≥ 1) = 1 − φ^(−m/(φ−1))
    for (const dispersion of [1.5, 50, 1e4, 1e6]) {
      for (const mean of [1e-9, 1e-4, 0.5]) {
        const wanted = -Math.expm1((-mean / (dispersion - 1)) * Math.log(dispersion));
        const about = `mean ${mean}, dispersion ${dispersion}`;
        expectClose(negativeBinomialUpperTail(1, mean, dispersion), wanted, 1e-13, about);
      }
    }
  });

  it('falls with x, and joins its methods without a step', () => {
    for (const dispersion of [3, 40, 1000]) {
      let before = 1;
      for (let x = 1; x < 6 * dispersion; x++) {
        const tail = negativeBinomialUpperTail(x, 0.3, dispersion);
        expect(tail).toBeLessThan(before);
        if (x > dispersion) expect(tail / before).toBeGreaterThan(0.3);
        before = tail;
      }
    }
  });

  it('holds at its ends', () => {
    expect(negativeBinomialUpperTail(0, 5, 2)).toBe(1);
    expect(negativeBinomialUpperTail(1, 0, 2)).toBe(0);
    expect(negativeBinomialUpperTail(2.2, 5, 2)).toBe(negativeBinomialUpperTail(3, 5, 2));
    expect(() => negativeBinomialUpperTail(1, -1, 2)).toThrow(RangeError);
  });
});
