/** Limits of counts and rates, and the tails of the Poisson distribution. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  largestResolvableSetpoint,
  poissonLimits,
  poissonLowerTail,
  poissonUpperTail,
  rateLimits,
  smallestResolvableSetpoint,
} from '../../src/stats/poisson.js';
import { reference } from './r-library.js';

const PLAIN = { confidence: 0.95, dispersion: 1, deadTimeS: 0 };

describe('limits of a count', () => {
  it('hold the tails that they promise', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1_000_000 }),
        fc.double({ min: 0.5, max: 0.9999, noNaN: true }),
        (n, c) => {
          const { lower, upper } = poissonLimits(n, c);
          const tail = (1 - c) / 2;
          expect(poissonUpperTail(n, lower) / tail).toBeCloseTo(1, 9);
          expect(poissonLowerTail(n, upper) / tail).toBeCloseTo(1, 9);
        },
      ),
      { seed: 3, numRuns: 500 },
    );
  });

  it('start at 0 without a pulse', () => {
    const { lower, upper } = poissonLimits(0, 0.95);
    expect(lower).toBe(0);
    expect(upper).toBeCloseTo(-Math.log(0.025), 13);
  });

  it('widen with the dispersion as if fewer pulses had been counted', () => {
    const wide = poissonLimits(120, 0.95, 8);
    const few = poissonLimits(15, 0.95);
    expect(wide.lower).toBeCloseTo(8 * few.lower, 9);
    expect(wide.upper).toBeCloseTo(8 * few.upper, 9);
  });

  it('take a count that is no whole multiple of the dispersion, or less than it', () => {
    const { lower, upper } = poissonLimits(7, 0.95, 2.5);
    expect(lower).toBeCloseTo(2.5 * reference.qgamma(0.025, 2.8), 10);
    expect(upper).toBeCloseTo(2.5 * reference.qgamma(0.025, 3.8, undefined, undefined, false), 10);
    expect(poissonLimits(1, 0.95, 1e4).lower).toBe(0);
    expect(poissonLimits(1, 0.95, 1e4).upper).toBeGreaterThan(3.68e4);
  });

  it('tend to N ± z √(φ N) at 1e9 pulses', () => {
    const { lower, upper } = poissonLimits(1e9, 0.95, 4);
    const half = 1.959963984540054 * Math.sqrt(4e9);
    // the next term of the expansion is (z² − 1) φ / 3, and φ more above
    expect(lower).toBeCloseTo(1e9 - half + (4 * (1.959963984540054 ** 2 - 1)) / 3, 2);
    expect(upper).toBeCloseTo(1e9 + half + (4 * (1.959963984540054 ** 2 - 1)) / 3 + 4, 2);
  });

  it('refuse what no counter can say', () => {
    expect(() => poissonLimits(-1, 0.95)).toThrow(/pulses/);
    expect(() => poissonLimits(NaN, 0.95)).toThrow(/pulses/);
    expect(() => poissonLimits(1, 1)).toThrow(/confidence/);
    expect(() => poissonLimits(1, 0.95, 0)).toThrow(/dispersion/);
  });
});

describe('limits of a rate', () => {
  it('divide by the exposure, per minute', () => {
    const { lower, upper } = poissonLimits(50, 0.95);
    const rate = rateLimits(50, 600_000, PLAIN)!;
    expect(rate.ratePerMin).toBeCloseTo(5, 12);
    expect(rate.lowerPerMin).toBeCloseTo(lower / 10, 12);
    expect(rate.upperPerMin).toBeCloseTo(upper / 10, 12);
    expect(rate.uncertain).toBe(false);
  });

  it('are no rate, rather than zero, without exposure', () => {
    expect(rateLimits(0, 0, PLAIN)).toBeNull();
    expect(rateLimits(5, 0, PLAIN)).toBeNull();
  });

  it('are corrected for dead time last, rate and both limits alike', () => {
    const deadTimeS = 1e-3;
    const plain = rateLimits(60_000, 600_000, PLAIN)!;
    const corrected = rateLimits(60_000, 600_000, { ...PLAIN, deadTimeS })!;
    for (const field of ['ratePerMin', 'lowerPerMin', 'upperPerMin'] as const) {
      const counted = plain[field] / 60;
      expect(corrected[field]).toBeCloseTo((60 * counted) / (1 - counted * deadTimeS), 6);
    }
  });

  it('are uncertain once dead time takes more than half, and open above once it takes all', () => {
    const options = { ...PLAIN, deadTimeS: 0.01 };
    expect(rateLimits(50 * 600, 600_000, options)!.uncertain).toBe(false);
    expect(rateLimits(51 * 600, 600_000, options)!.uncertain).toBe(true);
    const full = rateLimits(100 * 600, 600_000, options)!;
    expect(full.upperPerMin).toBe(Infinity);
    expect(full.uncertain).toBe(true);
    expect(full.lowerPerMin).toBeLessThan(Infinity);
  });
});

describe('tails of the Poisson distribution', () => {
  it('agree with the reference library', () => {
    for (const mean of [0.05, 0.7, 3, 19, 21, 400, 1e4, 1e6]) {
      for (const z of [-5, -1, 0, 1, 3, 6]) {
        const x = Math.max(0, Math.round(mean + z * Math.sqrt(mean)));
        const above = reference.ppois(x, mean, false);
        if (above > 0) expect(poissonUpperTail(x + 1, mean) / above).toBeCloseTo(1, 9);
        expect(poissonLowerTail(x, mean) / reference.ppois(x, mean)).toBeCloseTo(1, 9);
      }
    }
  });

  it('hold at their ends', () => {
    expect(poissonUpperTail(0, 3)).toBe(1);
    expect(poissonUpperTail(1, 0)).toBe(0);
    expect(poissonLowerTail(-1, 3)).toBe(0);
    expect(poissonLowerTail(0, 0)).toBe(1);
    expect(poissonUpperTail(2.5, 3)).toBe(poissonUpperTail(3, 3));
  });
});

describe('setpoints that counts can resolve', () => {
  it('lie above what a silent window leaves open', () => {
    const least = smallestResolvableSetpoint(600_000, 0.95, 1);
    expect(least).toBeCloseTo(3.6888794541139363 / 10, 12);
    expect(rateLimits(0, 600_000, PLAIN)!.upperPerMin).toBeCloseTo(least, 12);
    expect(smallestResolvableSetpoint(600_000, 0.95, 3)).toBeCloseTo(3 * least, 12);
    expect(smallestResolvableSetpoint(6_000_000, 0.95, 1)).toBeCloseTo(least / 10, 12);
    expect(smallestResolvableSetpoint(0, 0.95)).toBe(Infinity);
  });

  it('can be exceeded by some count in the window, whatever they are', () => {
    for (const setpoint of [smallestResolvableSetpoint(600_000, 0.99), 20, 3000]) {
      let pulses = Math.ceil(setpoint * 10);
      while (rateLimits(pulses, 600_000, { ...PLAIN, confidence: 0.99 })!.lowerPerMin <= setpoint)
        pulses += 1;
      expect(pulses).toBeLessThan(setpoint * 10 + 10 * Math.sqrt(setpoint * 10) + 20);
    }
  });

  it('have a ceiling where the dead time takes half of what is counted', () => {
    expect(largestResolvableSetpoint(0)).toBe(Infinity);
    expect(largestResolvableSetpoint(0.01)).toBe(6000);
    const atCeiling = rateLimits(50 * 600, 600_000, { ...PLAIN, deadTimeS: 0.01 })!;
    expect(atCeiling.ratePerMin).toBeCloseTo(6000, 9);
  });
});
