/** The gamma function, the incomplete gamma functions and their inverse. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ETA_TERMS, gammaP, gammaQ } from '../../src/stats/gamma.js';
import { gammaQuantile } from '../../src/stats/gamma-quantile.js';
import { deviance, lnGamma, lnGammaOnePlus, stirlingError } from '../../src/stats/ln-gamma.js';
import { normalUpperQuantile, scaledErfc } from '../../src/stats/normal.js';
import { reference } from './r-library.js';
import { GAMMA_QUANTILES } from './reference.js';

function expectClose(found: number, wanted: number, relative: number, about: string): void {
  const off = Math.abs(found / wanted - 1);
  expect(off, `${about}: ${found} against ${wanted}`).toBeLessThanOrEqual(relative);
}

/** Shapes over nine decades, evenly in the logarithm. */
const anyShape = fc.double({ min: -3, max: 9, noNaN: true }).map((lg) => 10 ** lg);

describe('ln Γ', () => {
  it('equals ln (n − 1)! for whole n', () => {
    let lnFactorial = 0;
    for (let n = 2; n <= 60; n++) {
      lnFactorial += Math.log(n - 1);
      if (n > 2) expectClose(lnGamma(n), lnFactorial, 1e-14, `n = ${n}`);
    }
    expect(lnGamma(1)).toBe(0);
    expect(lnGamma(2)).toBe(0);
  });

  it('obeys Γ(z + 1) = z Γ(z) across the borders of its methods', () => {
    for (const z of [1e-3, 0.2, 0.49, 0.5, 0.51, 1.49, 1.5, 1.51, 2.49, 2.51, 8.99, 9, 9.01, 40]) {
      expect(Math.abs(lnGamma(z + 1) - lnGamma(z) - Math.log(z))).toBeLessThan(1e-14 * (1 + lnGamma(z + 1)));
    }
  });

  it('keeps its digits near its zeros', () => {
    // −γ t + ζ(2) t²/2 for small t
    for (const t of [1e-9, -1e-9]) {
      expectClose(lnGammaOnePlus(t), -0.5772156649015329 * t + 0.8224670334241132 * t * t, 1e-14, `t = ${t}`);
    }
  });

  it('gives Stirling’s error on both sides of 10', () => {
    expectClose(stirlingError(9.999999), stirlingError(10.000001), 1e-6, 'at 10');
    expectClose(stirlingError(1e9), 1 / 12e9, 1e-14, 'far out');
  });

  it('refuses what lies outside its range', () => {
    expect(() => lnGamma(0)).toThrow(RangeError);
    expect(() => lnGamma(NaN)).toThrow(RangeError);
  });
});

describe('deviance', () => {
  it('is n · δ²/2 for small relative differences δ', () => {
    expectClose(deviance(1e9, 1e9 + 1), 0.5e-9 * (1 - 2 / 3e9), 1e-14, 'one in 1e9');
  });

  it('agrees with the plain formula where that has digits', () => {
    for (const m of [0.01, 3, 5.9, 6.1, 9, 11, 15.9, 16.1, 400]) {
      expectClose(deviance(10, m), 10 * Math.log(10 / m) + m - 10, 1e-13, `m = ${m}`);
    }
  });
});

describe('normal tail', () => {
  it('starts at 1 and ends as 1 / (x √π)', () => {
    expect(scaledErfc(0)).toBeCloseTo(1, 15);
    expectClose(scaledErfc(1e8), 1 / (1e8 * Math.sqrt(Math.PI)), 1e-14, 'x = 1e8');
  });

  it('agrees with the reference library', () => {
    for (const tail of [0.5, 0.4, 0.1, 0.025, 1e-6, 1e-12, 1e-100]) {
      const wanted = reference.qnorm(tail, 0, 1, false);
      expect(Math.abs(normalUpperQuantile(tail) - wanted)).toBeLessThan(1e-13 * (1 + wanted));
    }
  });
});

describe('incomplete gamma functions', () => {
  it('are 1 − e^(−x) and e^(−x) for shape 1', () => {
    for (const x of [1e-12, 1e-3, 0.5, 1, 1.6, 2.5, 30, 600]) {
      expectClose(gammaP(1, x), -Math.expm1(-x), 1e-14, `P(1, ${x})`);
      expectClose(gammaQ(1, x), Math.exp(-x), 3e-14, `Q(1, ${x})`);
    }
  });

  it('add up to 1, and rise with x', () => {
    fc.assert(
      fc.property(anyShape, fc.double({ min: -6, max: 6, noNaN: true }), (shape, z) => {
        const x = Math.max(0, shape + z * Math.sqrt(shape));
        const p = gammaP(shape, x);
        expect(Math.abs(p + gammaQ(shape, x) - 1)).toBeLessThan(1e-14);
        expect(gammaP(shape, x * (1 + 1e-6))).toBeGreaterThanOrEqual(p);
      }),
      { seed: 1, numRuns: 2000 },
    );
  });

  it('obey P(a, x) = P(a + 1, x) + x^a e^(−x) / Γ(a + 1) across the borders of their methods', () => {
    for (const shape of [18.5, 19, 19.5, 21, 40, 300]) {
      for (const ratio of [0.25, 0.299, 0.301, 0.39, 0.41, 1.59, 1.61, 2.34, 2.36, 2.6]) {
        const x = shape * ratio;
        const step = Math.exp(shape * Math.log(x) - x - lnGamma(shape + 1));
        const small = ratio < 1 ? gammaP(shape, x) : gammaQ(shape + 1, x);
        const next = ratio < 1 ? gammaP(shape + 1, x) : gammaQ(shape, x);
        expectClose(small - next, step, 2e-12, `a = ${shape}, x = ${x}`);
      }
    }
  });

  it('agree with the reference library in both tails', () => {
    for (const shape of [1e-3, 0.1, 0.5, 1, 2.5, 10, 19.9, 20, 100, 1e4, 1e6]) {
      for (const z of [-6, -4, -2, -1, 0, 1, 2, 4, 6]) {
        const x = shape + z * Math.sqrt(shape);
        if (x <= 0) continue;
        expectClose(gammaP(shape, x), reference.pgamma(x, shape), 1e-10, `P(${shape}, ${x})`);
        const above = reference.pgamma(x, shape, undefined, undefined, false);
        expectClose(gammaQ(shape, x), above, 1e-10, `Q(${shape}, ${x})`);
      }
    }
  });

  it('reach their ends', () => {
    expect([gammaP(3, 0), gammaQ(3, 0), gammaP(3, Infinity), gammaQ(3, Infinity)]).toEqual([0, 1, 1, 0]);
    expect(() => gammaP(0, 1)).toThrow(RangeError);
    expect(() => gammaQ(1, -1)).toThrow(RangeError);
  });
});

/** Fractions of whole numbers, reduced. */
interface Fraction {
  n: bigint;
  d: bigint;
}

function reduce(n: bigint, d: bigint): Fraction {
  let [a, b] = [n < 0n ? -n : n, d];
  while (b !== 0n) [a, b] = [b, a % b];
  return a === 0n ? { n: 0n, d: 1n } : { n: n / a, d: d / a };
}
const add = (p: Fraction, q: Fraction): Fraction => reduce(p.n * q.d + q.n * p.d, p.d * q.d);
const times = (p: Fraction, q: Fraction): Fraction => reduce(p.n * q.n, p.d * q.d);

function toNumber({ n, d }: Fraction): number {
  const scale = 10n ** 60n;
  return Number((n * scale) / d) / 1e60;
}

describe('terms of the uniform expansion', () => {
  it('follow from μ μ′ = η (1 + μ) by exact fractions', () => {
    // μ = λ − 1 = Σ m[n] ηⁿ with m[1] = 1, then the reciprocal series of μ / η
    const m: Fraction[] = [reduce(0n, 1n), reduce(1n, 1n)];
    for (let n = 2; n <= ETA_TERMS.length; n++) {
      let inner = times(reduce(2n, BigInt(n + 1)), m[n - 1]!);
      for (let i = 2; i < n; i++) inner = add(inner, times(reduce(-1n, 1n), times(m[i]!, m[n + 1 - i]!)));
      m.push(times(reduce(1n, 2n), inner));
    }
    const terms: Fraction[] = [reduce(1n, 1n)];
    for (let n = 1; n < ETA_TERMS.length; n++) {
      let term = reduce(0n, 1n);
      for (let i = 0; i < n; i++) term = add(term, times(reduce(-1n, 1n), times(terms[i]!, m[n - i + 1]!)));
      terms.push(term);
    }
    terms.forEach((term, n) => expectClose(ETA_TERMS[n]!, toNumber(term), 1e-15, `term ${n}`));
  });
});

describe('gamma quantile', () => {
  it('meets values of 40 digits from shape 1e-3 to 1e9', () => {
    expect(GAMMA_QUANTILES.length).toBeGreaterThan(70);
    for (const [tail, shape, p, wanted] of GAMMA_QUANTILES) {
      expectClose(gammaQuantile(p, shape, tail), wanted, 5e-13, `${tail} ${p}, shape ${shape}`);
    }
  });

  it('agrees with the reference library up to shape 1e6', () => {
    for (const shape of [0.1, 0.3, 0.7, 1, 1.5, 3, 9.9, 10.1, 30, 137, 700, 1000, 1500, 5000, 1e5, 1e6]) {
      for (const p of [1e-10, 1e-6, 0.001, 0.025, 0.2, 0.5, 0.8, 0.975]) {
        const about = `${p}, shape ${shape}`;
        expectClose(gammaQuantile(p, shape), reference.qgamma(p, shape), 1e-12, `lower ${about}`);
        const above = reference.qgamma(p, shape, undefined, undefined, false);
        expectClose(gammaQuantile(p, shape, 'upper'), above, 1e-12, `upper ${about}`);
      }
    }
  });

  it('meets the Cornish-Fisher expansion where its remainder is below 1e-15', () => {
    // normal quantile at 0.025 to all digits; terms after DiDonato and Morris (1986), eq. 31
    const z = -1.959963984540054;
    for (const shape of [1e8, 1e9, 1e11]) {
      const root = Math.sqrt(shape);
      const wanted = shape + z * root + (z * z - 1) / 3 + (z ** 3 - 7 * z) / (36 * root);
      expectClose(gammaQuantile(0.025, shape), wanted, 1e-15, `shape ${shape}`);
    }
  });

  it('is the inverse of its tails, for any shape and probability', () => {
    fc.assert(
      fc.property(anyShape, fc.double({ min: -30, max: -0.31, noNaN: true }), (shape, lg) => {
        const p = 10 ** lg;
        const upper = gammaQuantile(p, shape, 'upper');
        if (upper > 1e-290) {
          // what one part in 1e13 of the quantile makes of the tail
          const allowed = 1e-12 + 1e-13 * Math.max(upper - shape, Math.sqrt(shape));
          expectClose(gammaQ(shape, upper), p, allowed, `upper, shape ${shape}, p ${p}`);
        }
        const lower = gammaQuantile(p, shape);
        if (lower > 1e-290)
          expectClose(gammaP(shape, lower), p, 1e-12 + 1e-13 * shape, `lower ${shape}, ${p}`);
      }),
      { seed: 2, numRuns: 3000 },
    );
  });

  it('survives tails of 1e-300', () => {
    for (const shape of [0.001, 0.5, 1, 5, 12, 50, 1e4, 1e9]) {
      const x = gammaQuantile(1e-300, shape, 'upper');
      expectClose(Math.log(gammaQ(shape, x)), Math.log(1e-300), 1e-12, `shape ${shape}`);
    }
  });

  it('has ends, and a floor below the smallest number', () => {
    expect([gammaQuantile(0, 2), gammaQuantile(1, 2)]).toEqual([0, Infinity]);
    expect([gammaQuantile(0, 2, 'upper'), gammaQuantile(1, 2, 'upper')]).toEqual([Infinity, 0]);
    expect(gammaQuantile(0.025, 0.001)).toBe(0);
    expect(() => gammaQuantile(1.1, 2)).toThrow(RangeError);
    expect(() => gammaQuantile(0.5, 0)).toThrow(RangeError);
  });
});
