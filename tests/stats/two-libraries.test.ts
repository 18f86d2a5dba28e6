/**
 * Our distributions against two libraries that know nothing of one another: lib-r-math.js (the algorithms of R) and jstat.
 * Pulse counts reach a million, so shapes from 1000 to 1e6 are tried one by one: that is where libraries fail.
 */
import { describe, expect, it } from 'vitest';
import { regularisedBeta } from '../../src/stats/beta.js';
import { betaOddsQuantile } from '../../src/stats/beta-quantile.js';
import { gammaP } from '../../src/stats/gamma.js';
import { gammaQuantile } from '../../src/stats/gamma-quantile.js';
import { normalQuantile, normalUpperTail } from '../../src/stats/normal.js';
import { poissonLimits, poissonLowerTail } from '../../src/stats/poisson.js';
import { conditionalRatioLimits } from '../../src/stats/rate-ratio.js';
import { studentUpperQuantile, studentUpperTail } from '../../src/stats/student.js';
import { secondReference } from './jstat-library.js';
import { reference } from './r-library.js';

const SHAPES = [0.5, 3.7, 25, 400, 1000, 1500, 5000, 2e4, 1e5, 3e5, 1e6];
const TAILS = [0.0005, 0.025, 0.5, 0.975, 0.9995];

function expectClose(found: number, wanted: number, relative: number, about: string): void {
  expect(Math.abs(found / wanted - 1), `${about}: ${found} against ${wanted}`).toBeLessThanOrEqual(relative);
}

describe('both libraries agree with us', () => {
  it('on gamma quantiles of shapes 0.5 to 1e6', () => {
    for (const shape of SHAPES) {
      for (const p of TAILS) {
        const found = gammaQuantile(p, shape);
        expectClose(found, reference.qgamma(p, shape), 1e-12, `R: Γ quantile ${p}, shape ${shape}`);
        expectClose(found, secondReference.gamma.inv(p, shape, 1), 1e-9, `jstat: the same`);
      }
    }
  });

  it('on gamma probabilities of shapes 0.5 to 1e6', () => {
    for (const shape of SHAPES) {
      for (const off of [-3, -1, 0, 2]) {
        const x = shape * Math.exp(off / Math.sqrt(shape));
        expectClose(gammaP(shape, x), reference.pgamma(x, shape), 1e-11, `R: P(${shape}, ${x})`);
        expectClose(gammaP(shape, x), secondReference.gamma.cdf(x, shape, 1), 1e-8, `jstat: the same`);
      }
    }
  });

  it('on Garwood limits of 0 to a million pulses', () => {
    for (const pulses of [0, 1, 7, 60, 999, 1000, 12_345, 100_000, 1_000_000]) {
      const { lower, upper } = poissonLimits(pulses, 0.95);
      expectClose(upper, reference.qgamma(0.975, pulses + 1), 1e-12, `R: upper of ${pulses}`);
      expectClose(upper, secondReference.gamma.inv(0.975, pulses + 1, 1), 1e-9, `jstat: upper of ${pulses}`);
      if (pulses === 0) expect(lower).toBe(0);
      else {
        expectClose(lower, reference.qgamma(0.025, pulses), 1e-12, `R: lower of ${pulses}`);
        expectClose(lower, secondReference.gamma.inv(0.025, pulses, 1), 1e-9, `jstat: lower of ${pulses}`);
      }
    }
  });

  // qbeta of the first library is good to 3e-7 only, the second to 6e-7 at 1e5: that is the bound here; exact values are below
  it('on beta quantiles, as limits of a rate ratio', () => {
    for (const [x, y] of [
      [1, 2],
      [11, 21],
      [60, 30],
      [500, 600],
      [1000, 1000],
      [5000, 20_000],
      [100_000, 100_000],
    ] as const) {
      const { lower, upper } = conditionalRatioLimits(
        { pulses: x, exposure: 1 },
        { pulses: y, exposure: 1 },
        0.95,
      );
      for (const quantile of [
        (p: number, a: number, b: number) => reference.qbeta(p, a, b),
        (p: number, a: number, b: number) => secondReference.beta.inv(p, a, b),
      ]) {
        const low = quantile(0.025, x, y + 1);
        const high = quantile(0.975, x + 1, y);
        expectClose(lower, low / (1 - low), 3e-6, `lower of ${x} against ${y}`);
        expectClose(upper, high / (1 - high), 3e-6, `upper of ${x} against ${y}`);
      }
    }
  });

  // the first library's pbeta is good to 1e-7, and off by 1e-5 at (1000, 1500): jstat by 3e-4 at (1e5, 3e5).
  // Above 100 scipy 1.17 stands in for both
  it('on incomplete beta functions', () => {
    for (const [a, b] of [
      [0.5, 3],
      [11, 22],
      [70, 90],
    ] as const) {
      for (const x of [0.1, 0.3, 0.45, 0.8]) {
        expectClose(regularisedBeta(a, b, x), reference.pbeta(x, a, b), 1e-6, `R: I_${x}(${a}, ${b})`);
        expectClose(regularisedBeta(a, b, x), secondReference.beta.cdf(x, a, b), 1e-6, `jstat: the same`);
      }
    }
    for (const [a, b, odds, wanted] of [
      [1000, 1500, 0.6143965169441628, 0.023219401016002044],
      [1000, 1500, 0.6666666666666666, 0.5010858488742148],
      [1000, 1500, 0.7087674066896251, 0.9339052185367636],
      [5000, 5000, 0.9607894391523232, 0.022756431091454497],
      [5000, 5000, 1.0, 0.49999999999999967],
      [5000, 5000, 1.030454533953517, 0.9331842991478652],
      [20000, 1000, 18.744959068125976, 0.02120852515061493],
      [20000, 1000, 20.0, 0.4961012720024167],
      [20000, 1000, 20.99612357026395, 0.9304628397224822],
      [100000.0, 300000.0, 0.330907878145448, 0.02284901335601831],
      [100000.0, 300000.0, 0.3333333333333333, 0.5002427886356727],
      [100000.0, 300000.0, 0.3351640843329069, 0.9333599430353228],
      [1000000.0, 1000000.0, 0.9971755691066828, 0.022750163442924534],
      [1000000.0, 1000000.0, 1.0, 0.4999999999999999],
      [1000000.0, 1000000.0, 1.002123571935394, 0.9331927562331588],
    ] as const) {
      const found = regularisedBeta(a, b, odds / (1 + odds), 1 / (1 + odds));
      expectClose(found, wanted, 1e-11, `scipy: (${a}, ${b}) at odds ${odds}`);
    }
  });

  it('on the tails of Poisson, normal and Student variables', () => {
    for (const mean of [0.3, 12, 1000, 1e5, 1e6]) {
      const k = Math.floor(mean - Math.sqrt(mean) / 2);
      expectClose(poissonLowerTail(k, mean), reference.ppois(k, mean), 1e-11, `R: Poisson ${k}, ${mean}`);
      const second = 1 - secondReference.gamma.cdf(mean, k + 1, 1);
      expectClose(poissonLowerTail(k, mean), second, 1e-8, `jstat: Poisson ${k}, ${mean}`);
    }
    for (const z of [-4, -1, 0.3, 2, 5]) {
      expectClose(normalUpperTail(z), secondReference.normal.cdf(-z, 0, 1), 1e-7, `jstat: normal ${z}`);
    }
    for (const p of [1e-6, 0.025, 0.5, 0.9, 0.999]) {
      expect(normalQuantile(p)).toBeCloseTo(reference.qnorm(p, 0, 1, true), 13);
      expect(normalQuantile(p)).toBeCloseTo(secondReference.normal.inv(p, 0, 1), 7);
    }
    for (const freedom of [1, 4.5, 9, 22, 400]) {
      expectClose(studentUpperTail(-1.7, freedom), reference.pt(1.7, freedom), 1e-8, `R: t, ${freedom}`);
      expectClose(studentUpperTail(1.7, freedom), secondReference.studentt.cdf(-1.7, freedom), 1e-7, 'jstat');
      const t = secondReference.studentt.inv(0.975, freedom);
      expectClose(studentUpperQuantile(0.025, freedom), t, 1e-7, `jstat: t quantile, ${freedom}`);
    }
  });
});

describe('closed forms and exact values', () => {
  it('hold where the libraries have fewer digits', () => {
    expectClose(studentUpperTail(-1.7, 1), 0.5 + Math.atan(1.7) / Math.PI, 1e-14, 't with 1 degree: Cauchy');
    expectClose(
      studentUpperTail(1.7, 2),
      0.5 - 1.7 / (2 * Math.sqrt(2 + 1.7 ** 2)),
      1e-13,
      't with 2 degrees',
    );
    // scipy 1.17, which computes with long double
    expectClose(regularisedBeta(1000, 1500, 0.38057349015292313), 0.0232194010160021, 1e-12, 'I(1000, 1500)');
    expectClose(studentUpperTail(6, 22), 2.4366367271570166e-6, 1e-12, 't with 22 degrees');
    expectClose(studentUpperQuantile(0.0005, 22), 3.792130671698392, 1e-12, 't quantile');
    expectClose(studentUpperQuantile(1e-8, 40), 6.979945759121789, 1e-12, 't quantile, far out');
  });
});

describe('beta quantiles', () => {
  it('agree with values of 25 and more digits', () => {
    // [p, a, b, odds]: mpmath, by root finding on the incomplete beta function or by integrating the density of the log odds
    for (const [p, a, b, odds] of [
      [0.025, 1, 2, 0.012739367083666617],
      [0.025, 0.5, 3.7, 0.00014197032008135449],
      [0.975, 2, 1000, 0.0055843958784314405],
      [0.025, 41, 16, 1.4812646892741286],
      [0.025, 1000, 1000, 0.9160564906973325],
      [0.975, 5000, 12000.5, 0.4305759297836737],
      [0.025, 1e5, 3e5, 0.33095410399867174],
      [0.975, 1e6, 1e6, 1.0027756534515695],
      [1e-6, 1e6, 500, 1629.6960391017246],
      [1e-9, 30, 7, 0.50238375032390996],
      [0.5, 0.05, 8, 7.4017295605045206e-8],
    ] as const) {
      expectClose(betaOddsQuantile(p, a, b), odds, 2e-12, `${p} of (${a}, ${b})`);
    }
  });

  it('come back through the incomplete beta function in both tails', () => {
    for (const a of [0.02, 0.7, 3, 88.5, 4e4, 1e8]) {
      for (const b of [0.02, 1, 12, 7e3, 1e8]) {
        for (const p of [1e-9, 0.025, 0.5]) {
          const low = betaOddsQuantile(p, a, b);
          if (low > 0) {
            const mass = regularisedBeta(a, b, low / (1 + low), 1 / (1 + low));
            expectClose(mass, p, 1e-8, `lower ${p} of (${a}, ${b})`);
          }
          const high = betaOddsQuantile(p, a, b, 'upper');
          if (high < Infinity) {
            const mass = regularisedBeta(b, a, 1 / (1 + high), high / (1 + high));
            expectClose(mass, p, 1e-8, `upper ${p} of (${a}, ${b})`);
          }
        }
      }
    }
  });

  it('have the ends 0 and Infinity, and refuse what lies outside', () => {
    expect(betaOddsQuantile(0, 2, 3)).toBe(0);
    expect(betaOddsQuantile(1, 2, 3)).toBe(Infinity);
    expect(betaOddsQuantile(0, 2, 3, 'upper')).toBe(Infinity);
    expect(() => betaOddsQuantile(1.1, 2, 3)).toThrow(RangeError);
    expect(() => betaOddsQuantile(0.5, 0, 3)).toThrow(RangeError);
    expect(() => studentUpperTail(1, 0)).toThrow(RangeError);
    expect(() => studentUpperQuantile(0.7, 3)).toThrow(RangeError);
    expect(() => normalQuantile(-0.1)).toThrow(RangeError);
  });
});
