/** Dead time, forth and back, and what it does to the variance. */
import { describe, expect, it } from 'vitest';
import {
  countedRatePerS,
  countedVariance,
  isSaturated,
  trueRatePerS,
  trueRateVariance,
} from '../../src/stats/dead-time.js';
import { seededRandom } from './random.js';

describe('dead time', () => {
  it('is undone by its inverse', () => {
    for (const n of [0, 0.1, 30, 4000, 1e6]) {
      expect(trueRatePerS(countedRatePerS(n, 2e-5), 2e-5)).toBeCloseTo(n, 6);
    }
    expect(trueRatePerS(77, 0)).toBe(77);
  });

  it('hides everything from a counter that is always busy', () => {
    expect(trueRatePerS(1000, 1e-3)).toBe(Infinity);
    expect(trueRatePerS(1001, 1e-3)).toBe(Infinity);
    expect(countedRatePerS(Infinity, 1e-3)).toBe(1000);
    expect(countedRatePerS(Infinity, 0)).toBe(Infinity);
    expect(trueRateVariance(1000, 5, 1e-3)).toBe(Infinity);
  });

  it('is trusted up to half', () => {
    expect(isSaturated(500, 1e-3)).toBe(false);
    expect(isSaturated(501, 1e-3)).toBe(true);
  });

  it('thins and regularises counts as a simulated counter does', () => {
    const random = seededRandom(5);
    const [rate, tau, duration, runs] = [40, 0.01, 20, 3000];
    const counts: number[] = [];
    for (let i = 0; i < runs; i++) {
      let [at, free, count] = [0, 0, 0];
      for (;;) {
        at -= Math.log(random()) / rate;
        if (at > duration) break;
        if (at < free) continue;
        count += 1;
        free = at + tau;
      }
      counts.push(count);
    }
    const mean = counts.reduce((a, b) => a + b, 0) / runs;
    const variance = counts.reduce((a, b) => a + (b - mean) ** 2, 0) / (runs - 1);
    expect(mean / (countedRatePerS(rate, tau) * duration)).toBeCloseTo(1, 2);
    const expected = countedVariance(rate, duration, tau);
    expect(Math.abs(variance / expected - 1)).toBeLessThan(0.1);
    // and back: the variance of the corrected rate, m's own variance being that of the count over the squared time
    const backward = trueRateVariance(mean / duration, variance / duration ** 2, tau);
    const rates = counts.map((count) => trueRatePerS(count / duration, tau));
    const meanRate = rates.reduce((a, b) => a + b, 0) / runs;
    const varianceOfRates = rates.reduce((a, b) => a + (b - meanRate) ** 2, 0) / (runs - 1);
    expect(Math.abs(varianceOfRates / backward - 1)).toBeLessThan(0.05);
  });
});
