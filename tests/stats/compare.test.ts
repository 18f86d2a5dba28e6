/** One comparison: its parts against formulas, its answers at the edges, and which method it takes when. */
import { describe, expect, it } from 'vitest';
import { compare, type BinCount, type CompareSide } from '../../src/stats/compare.js';
import { type DayCount, jackknifeDays } from '../../src/stats/jackknife.js';
import { compareStrata, silentSideLimit, type Stratum } from '../../src/stats/mantel-haenszel.js';
import { normalUpperQuantile } from '../../src/stats/normal.js';
import { poissonLimits } from '../../src/stats/poisson.js';
import { conditionalRatioLimits } from '../../src/stats/rate-ratio.js';

const OPTIONS = { confidence: 0.95, nullRatio: 1 };
const HOUR = 3_600_000;

function side(...bins: [bin: string, pulses: number, hours: number, phi: number][]): CompareSide {
  return {
    bins: bins.map(([bin, pulses, hours, phi]): BinCount => {
      return { bin, pulses, exposureMs: hours * HOUR, phi };
    }),
    days: null,
  };
}

function stratum(pulsesA: number, exposureA: number, pulsesB: number, exposureB: number): Stratum {
  return {
    ...{ pulsesA, exposureA, phiA: 1, freedomA: Infinity },
    ...{ pulsesB, exposureB, phiB: 1, freedomB: Infinity },
  };
}

describe('stratified ratio', () => {
  it('is the plain ratio in one bin, its variance φ/X of both sides', () => {
    const found = compareStrata([{ ...stratum(200, 10, 50, 5), phiA: 8, phiB: 2 }]);
    expect(found.ratio).toBeCloseTo(2, 12);
    expect(found.lnVariance).toBeCloseTo(8 / 200 + 2 / 50, 12);
    expect(found.lnVariancePoisson).toBeCloseTo(1 / 200 + 1 / 50, 12);
  });

  it('is the formula of Greenland and Robins for Poisson counts', () => {
    // Biometrics 41 (1985): Σ M Ta Tb / T² over (Σ Xa Tb / T)(Σ Xb Ta / T), worked out by hand for two bins
    const strata = [stratum(30, 100, 10, 100), stratum(12, 20, 30, 180)];
    const top = (40 * 100 * 100) / 200 ** 2 + (42 * 20 * 180) / 200 ** 2;
    const a = (30 * 100) / 200 + (12 * 180) / 200;
    const b = (10 * 100) / 200 + (30 * 20) / 200;
    const found = compareStrata(strata);
    expect(found.ratio).toBeCloseTo(a / b, 12);
    expect(found.lnVariance).toBeCloseTo(top / (a * b), 12);
    expect(found.lnVariance).toBe(found.lnVariancePoisson);
  });

  it('does not blame a side for having run where everybody discharges more', () => {
    // twice the rate in each bin; the plain ratio of sums says 0.4
    const found = compareStrata([stratum(2 * 9, 9, 1, 1), stratum(2 * 10, 1, 10 * 9, 9)]);
    expect(found.ratio).toBeCloseTo(2, 12);
    expect(38 / 10 / (91 / 10)).toBeLessThan(0.5);
  });
});

describe('a side without pulses', () => {
  it('has the limit of the exact method in one bin', () => {
    const limit = silentSideLimit([{ pulses: 12, exposure: 3, silentExposure: 5, phi: 1 }], 0.025);
    const exact = conditionalRatioLimits({ pulses: 0, exposure: 5 }, { pulses: 12, exposure: 3 }, 0.95);
    expect(limit / exact.upper).toBeCloseTo(1, 10);
  });

  it('has Garwood’s limit where the other side is known well', () => {
    const limit = silentSideLimit([{ pulses: 1e9, exposure: 1e9, silentExposure: 10, phi: 4 }], 0.025);
    expect(limit / (poissonLimits(0, 0.95, 4).upper / 10)).toBeCloseTo(1, 6);
  });

  it('gives ratio 0 with an upper limit, or none with a lower one; nothing at all gives neither', () => {
    const quiet = side(['slow', 0, 10, 1], ['fast', 0, 2, 1]);
    const loud = side(['slow', 40, 10, 2], ['fast', 30, 5, 2]);
    const none = compare(quiet, loud, OPTIONS);
    expect(none).toMatchObject({ ratio: 0, lower: 0, method: 'conditional-exact', dispersion: 2 });
    expect(none.upper).toBeGreaterThan(0);
    expect(none.upper).toBeLessThan(1);
    expect(none.p.less).toBeLessThan(0.025);
    expect(none.p.greater).toBe(1);
    const endless = compare(loud, quiet, OPTIONS);
    expect(endless).toMatchObject({ ratio: null, upper: null, method: 'conditional-exact' });
    expect(endless.lower).toBeCloseTo(1 / none.upper!, 10);
    expect(endless.p.greater).toBeCloseTo(none.p.less, 14);
    const nothing = compare(quiet, quiet, OPTIONS);
    expect(nothing).toMatchObject({ ratio: null, lower: 0, upper: null });
    expect(nothing.p.twoSided).toBe(1);
  });
});

describe('compare', () => {
  it('takes exact limits in one bin with few Poisson pulses, and only there', () => {
    const few = compare(side(['x', 11, 800, 1]), side(['x', 21, 3011, 1]), OPTIONS);
    expect(few.method).toBe('conditional-exact');
    // B01 of the published values: R, poisson.test
    expect(few.lower).toBeCloseTo(0.8584264, 7);
    expect(few.upper).toBeCloseTo(4.2772659, 7);
    expect(compare(side(['x', 11, 800, 3]), side(['x', 21, 3011, 1]), OPTIONS).method).toBe(
      'mantel-haenszel',
    );
    expect(compare(side(['x', 110, 800, 1]), side(['x', 210, 9, 1]), OPTIONS).method).toBe('mantel-haenszel');
    const two = side(['x', 11, 800, 1], ['y', 4, 2, 1]);
    expect(compare(two, two, OPTIONS).method).toBe('mantel-haenszel');
  });

  it('leaves out bins that one side alone has visited, and says which', () => {
    const found = compare(
      side(['slow', 300, 10, 2], ['fast', 4000, 1, 2], ['hot', 0, 0, 1]),
      side(['slow', 100, 10, 2], ['idle', 7, 3, 1]),
      OPTIONS,
    );
    expect(found.ratio).toBeCloseTo(3, 12);
    expect(found.binsUsed).toEqual(['slow']);
    expect(found.binsLeftOut).toEqual([
      { bin: 'fast', reason: 'only-a', exposureMs: HOUR },
      { bin: 'hot', reason: 'no-exposure', exposureMs: 0 },
      { bin: 'idle', reason: 'only-b', exposureMs: 3 * HOUR },
    ]);
    expect(found.exposureMs).toEqual({ a: 10 * HOUR, b: 10 * HOUR, shared: 10 * HOUR });
    expect(found.pulses).toEqual({ a: 300, b: 100 });
  });

  it('says nothing where no bin is shared', () => {
    const found = compare(side(['x', 3, 1, 1]), side(['y', 3, 1, 1]), OPTIONS);
    expect(found).toMatchObject({ ratio: null, lower: 0, upper: null, method: null, binsUsed: [] });
    expect(found.p.twoSided).toBe(1);
  });

  it('widens its limits by the dispersion, and tells it', () => {
    const found = compare(side(['x', 900, 1, 9]), side(['x', 900, 1, 9]), OPTIONS);
    expect(found.dispersion).toBeCloseTo(9, 12);
    expect(Math.log(found.upper!)).toBeCloseTo(normalUpperQuantile(0.025) * Math.sqrt(2 * 0.01), 12);
    expect(found.lower * found.upper!).toBeCloseTo(1, 12);
    // φ below 1 would be luck, not knowledge
    expect(compare(side(['x', 900, 1, 0.2]), side(['x', 900, 1, 0.2]), OPTIONS).dispersion).toBe(1);
  });

  it('turned round gives the inverse ratio, limits and p', () => {
    const a = side(['x', 90, 7, 3], ['y', 800, 11, 12]);
    const b = side(['x', 210, 30, 2], ['y', 300, 9, 5]);
    const forth = compare(a, b, { confidence: 0.9, nullRatio: 2 });
    const back = compare(b, a, { confidence: 0.9, nullRatio: 0.5 });
    expect(forth.ratio! * back.ratio!).toBeCloseTo(1, 12);
    expect(forth.lower * back.upper!).toBeCloseTo(1, 12);
    expect(forth.p.greater).toBeCloseTo(back.p.less, 12);
    expect(forth.p.twoSided).toBeCloseTo(back.p.twoSided, 12);
  });

  it('its p-value is 5 % where a 95 % limit touches the null ratio', () => {
    const a = side(['x', 90, 7, 3], ['y', 800, 11, 12]);
    const b = side(['x', 210, 30, 2], ['y', 300, 9, 5]);
    const { lower, upper } = compare(a, b, OPTIONS);
    expect(compare(a, b, { confidence: 0.95, nullRatio: lower }).p.greater).toBeCloseTo(0.025, 10);
    expect(compare(a, b, { confidence: 0.95, nullRatio: upper! }).p.less).toBeCloseTo(0.025, 10);
  });

  it('refuses what makes no sense', () => {
    const a = side(['x', 1, 1, 1]);
    expect(() => compare(side(['x', 1, 1, 1], ['x', 2, 1, 1]), a, OPTIONS)).toThrow(/twice/);
    expect(() => compare(side(['x', -1, 1, 1]), a, OPTIONS)).toThrow(RangeError);
    expect(() => compare(a, a, { confidence: 1, nullRatio: 1 })).toThrow(RangeError);
    expect(() => compare(a, a, { confidence: 0.9, nullRatio: 0 })).toThrow(RangeError);
  });
});

describe('jackknife over days', () => {
  const days = (name: string, pulses: readonly number[]): DayCount[] =>
    pulses.map((count, i) => ({ day: `${name}${i}`, bin: 'x', pulses: count, exposureMs: HOUR }));

  it('is the variance of two means where the sides have days of their own', () => {
    const a = days('a', [90, 110, 100, 80, 120, 100, 95, 105]);
    const b = days('b', [50, 49, 51, 50, 48, 52, 50]);
    const found = jackknifeDays(a, b, 7)!;
    const spread = (x: readonly number[]): number => {
      const mean = x.reduce((s, v) => s + v, 0) / x.length;
      return x.reduce((s, v) => s + (v - mean) ** 2, 0) / (x.length - 1) / x.length / mean ** 2;
    };
    expect(found.ratio).toBeCloseTo(2, 12);
    const wanted = spread(a.map((d) => d.pulses)) + spread(b.map((d) => d.pulses));
    expect(found.lnVariance / wanted).toBeCloseTo(1, 1);
    expect(found.days).toBe(15);
    expect(found.freedom).toBeGreaterThan(6);
    expect(found.freedom).toBeLessThan(14);
  });

  it('lets cancel what two sisters share on the same day', () => {
    const shared = [90, 10, 200, 80, 40, 100, 300, 105];
    const a = days(
      'd',
      shared.map((v) => 2 * v),
    );
    const b = days(
      'd',
      shared.map((v) => v + (v % 3)),
    );
    const together = jackknifeDays(a, b, 7)!;
    const apart = jackknifeDays(
      a,
      days(
        'e',
        b.map((d) => d.pulses),
      ),
      7,
    )!;
    expect(together.lnVariance).toBeLessThan(apart.lnVariance / 100);
  });

  it('says nothing of too few days, or where one day holds all pulses of a side', () => {
    expect(jackknifeDays(days('a', [1, 2, 3, 4, 5, 6]), days('b', [1, 2, 3, 4, 5, 6, 7]), 7)).toBeNull();
    const lone = days('b', [9, 0, 0, 0, 0, 0, 0]);
    expect(jackknifeDays(days('a', [1, 2, 3, 4, 5, 6, 7]), lone, 7)).toBeNull();
  });

  it('is taken by compare when there are days enough, of the shared bins only', () => {
    const a = {
      ...side(['x', 700, 7, 5], ['z', 9, 1, 1]),
      days: days('a', [90, 110, 100, 80, 120, 100, 100]),
    };
    const b = { ...side(['x', 350, 7, 5]), days: days('b', [50, 55, 45, 50, 40, 60, 50]) };
    const found = compare(a, b, OPTIONS);
    expect(found).toMatchObject({ method: 'jackknife', days: 14, binsUsed: ['x'] });
    expect(found.ratio).toBeCloseTo(2, 12);
    expect(found.lower).toBeLessThan(2);
    expect(compare(a, { ...b, days: b.days.slice(1) }, OPTIONS).method).toBe('mantel-haenszel');
  });
});
