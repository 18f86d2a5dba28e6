/** The rate over days with its limits: worked by hand, and by how often they hold the truth for days that differ. */
import { describe, expect, it } from 'vitest';
import { rateOverDays, type RunningDay } from '../../src/stats/days-rate.js';
import { poissonLimits } from '../../src/stats/poisson.js';
import { drawPoisson, seededRandom } from './random.js';

const HOUR_MS = 3_600_000;
const day = (pulses: number, hours = 1): RunningDay => ({ pulses, exposureMs: hours * HOUR_MS });

describe('the rate over days', () => {
  it('is the sum over the exposure, days without exposure left out', () => {
    const found = rateOverDays([day(10), day(30, 3), { pulses: 0, exposureMs: 0 }], 0.95)!;
    expect(found.rate * HOUR_MS).toBeCloseTo(10, 12);
    expect(found.days).toBe(2);
    expect(rateOverDays([], 0.95)).toBeNull();
    expect(rateOverDays([{ pulses: 0, exposureMs: 0 }], 0.95)).toBeNull();
  });

  it('has the limits of the jackknife, worked by hand', () => {
    // eight days of an hour: 800 pulses in all, half of the days with 80, half with 120
    const days = Array.from({ length: 8 }, (_, at) => day(at % 2 === 0 ? 80 : 120));
    // leaving out a day: 720 / 7 or 680 / 7 against 100
    const squares = 4 * Math.log(720 / 700) ** 2 + 4 * Math.log(680 / 700) ** 2;
    const width = 2.364624252 * Math.sqrt((7 / 8) * squares); // Student's t, 7 degrees, 0.975: published table
    const found = rateOverDays(days, 0.95)!;
    expect(found.isUncertain).toBe(false);
    expect(found.lower * HOUR_MS).toBeCloseTo(100 * Math.exp(-width), 6);
    expect(found.upper * HOUR_MS).toBeCloseTo(100 * Math.exp(width), 6);
  });

  it('is never surer than the counts themselves', () => {
    const found = rateOverDays(Array<RunningDay>(10).fill(day(4)), 0.95)!;
    const counts = poissonLimits(40, 0.95);
    expect(found.lower * HOUR_MS).toBeCloseTo(counts.lower / 10, 9);
    expect(found.upper * HOUR_MS).toBeCloseTo(counts.upper / 10, 9);
  });

  it('of few days, or of one that has all the pulses, goes by their dispersion and says so', () => {
    const few = rateOverDays([day(80), day(120), day(100)], 0.95)!;
    expect(few.isUncertain).toBe(true);
    expect(few.upper).toBeGreaterThan(few.rate);
    const one = rateOverDays([day(50), ...Array<RunningDay>(9).fill(day(0))], 0.95)!;
    expect(one.isUncertain).toBe(true);
    expect(one.upper).toBeGreaterThan(2 * one.rate);
    const none = rateOverDays(Array<RunningDay>(10).fill(day(0)), 0.95)!;
    expect([none.rate, none.lower]).toEqual([0, 0]);
    expect(none.upper * HOUR_MS).toBeCloseTo(poissonLimits(0, 0.95).upper / 10, 9);
  });

  it('holds the truth about as often as it says, also where each day has a rate of its own', () => {
    const random = seededRandom(11);
    const RUNS = 2_000;
    let held = 0;
    for (let run = 0; run < RUNS; run++) {
      // rates of days between half and one and a half of the mean, exposures between 4 h and 24 h
      const days = Array.from({ length: 30 }, () => {
        const hours = 4 + 20 * random();
        return day(drawPoisson(random, hours * 20 * (0.5 + random())), hours);
      });
      const found = rateOverDays(days, 0.95)!;
      if (found.lower * HOUR_MS <= 20 && 20 <= found.upper * HOUR_MS) held += 1;
    }
    expect(held / RUNS).toBeGreaterThan(0.93);
    expect(held / RUNS).toBeLessThan(0.985);
  });
});
