/** Dispersion from blocks and from running hours. */
import { describe, expect, it } from 'vitest';
import { dispersionOfBlocks, dispersionOver, pearson } from '../../src/stats/dispersion.js';
import type { HourSpread } from '../../src/stats/dispersion.js';
import { drawWindows, spreadsOf } from './bursts.js';
import { seededRandom } from './random.js';

/** An hour that ran throughout. */
function hourOf(pulses: number, q: HourSpread['q']): HourSpread {
  return { pulses, ms: 3_600_000, q, k: [360, 60, 6, 1] };
}

describe('Pearson dispersion', () => {
  it('weighs each block by its own exposure', () => {
    // rate 2/s: expected 20, 40, 60; squares 25/20 + 100/40 + 25/60 over 2
    expect(dispersionOfBlocks([15, 50, 55], [10, 20, 30])).toBeCloseTo((1.25 + 2.5 + 25 / 60) / 2, 12);
  });

  it('is the same from sums', () => {
    const x = [3, 0, 9, 4, 1];
    const e = [10, 4, 10, 10, 7.5];
    const q = x.reduce((total, v, i) => total + v ** 2 / e[i]!, 0);
    expect(pearson(q, 17, 41.5, 5)).toBeCloseTo(dispersionOfBlocks(x, e)!, 12);
  });

  it('is not defined without pulses, exposure or degrees of freedom', () => {
    expect(dispersionOfBlocks([0, 0], [10, 10])).toBeNull();
    expect(dispersionOfBlocks([], [])).toBeNull();
    expect(dispersionOfBlocks([4], [10])).toBeNull();
    expect(pearson(0, 0, 100, 10)).toBeNull();
    expect(pearson(5, 5, 0, 10)).toBeNull();
    expect(pearson(5, 5, 10, 3, 3)).toBeNull();
    expect(() => dispersionOfBlocks([1], [])).toThrow(/1 counts but 0 exposures/);
  });

  it('is never below 0, whatever rounding does to even counts', () => {
    expect(pearson(3 * (0.1 ** 2 / 0.3), 0.3, 0.9, 3)).toBeGreaterThanOrEqual(0);
  });
});

describe('dispersion over running hours', () => {
  it('is 1 and uncertain when nothing is known', () => {
    expect(dispersionOver([])).toEqual({ dispersion: 1, blockMs: null, uncertain: true });
    const silent = dispersionOver([hourOf(0, [0, 0, 0, 0]), hourOf(0, [0, 0, 0, 0])]);
    expect(silent).toEqual({ dispersion: 1, blockMs: 10_000, uncertain: false });
  });

  it('is uncertain below ten blocks of 10 min, and leaves out lengths with fewer than ten', () => {
    // all pulses of an hour in one 10 min block
    const hour = hourOf(600, [600 ** 2 / 10 / 60, 600 ** 2 / 60 / 10, 600 ** 2 / 600, 600 ** 2 / 3600]);
    const one = dispersionOver([hour]);
    expect(one.uncertain).toBe(true);
    expect(one.blockMs).toBe(60_000);
    const two = dispersionOver([hour, hour]);
    expect(two.uncertain).toBe(false);
    expect(two.blockMs).toBe(600_000);
    // 12 blocks: two with 600, ten with 0, expected 100 each
    expect(two.dispersion).toBeCloseTo((2 * 500 ** 2 + 10 * 100 ** 2) / 100 / 11, 9);
  });

  it('never falls below 1, though counts be even', () => {
    const even = hourOf(3600, [360 * 10, 60 * 60, 6 * 600, 3600]);
    expect(dispersionOver([even, even, even]).dispersion).toBe(1);
  });

  it('looks back over 48 hours of running and no further', () => {
    const quiet = hourOf(3600, [360 * 10, 60 * 60, 6 * 600, 3600]);
    const wild = hourOf(360_000, [
      360_000 ** 2 / 10,
      360_000 ** 2 / 60,
      360_000 ** 2 / 600,
      360_000 ** 2 / 3600,
    ]);
    const hours = [...new Array<HourSpread>(48).fill(quiet), wild];
    expect(dispersionOver(hours).dispersion).toBe(1);
    expect(dispersionOver(hours.slice(1)).dispersion).toBeGreaterThan(1000);
    // hours half run count half: the wild one comes into reach
    const half = hours.map((hour) => ({ ...hour, ms: hour.ms / 2 }));
    expect(dispersionOver(half).dispersion).toBeGreaterThan(1000);
  });

  it('finds the block length that bursts of a minute need', () => {
    const bursts = { burstsPerHour: 30, burstS: 60, burstPerS: 2, quietPerS: 0 };
    const found = dispersionOver(spreadsOf(drawWindows(seededRandom(6), bursts, 48)));
    const tens = drawWindows(seededRandom(6), bursts, 48);
    const alone = dispersionOfBlocks(tens, new Array<number>(tens.length).fill(10))!;
    expect(found.uncertain).toBe(false);
    expect(found.blockMs).toBeGreaterThanOrEqual(600_000);
    expect(found.dispersion).toBeGreaterThan(4 * alone);
    // long blocks: 1 + 2 · pulses per second in a burst · its mean length
    expect(found.dispersion / (1 + 2 * 2 * 60)).toBeGreaterThan(0.6);
    expect(found.dispersion / (1 + 2 * 2 * 60)).toBeLessThan(1.6);
  });

  it('stays near 1 for counts that are Poisson', () => {
    const steady = { burstsPerHour: 1e-6, burstS: 1, burstPerS: 1, quietPerS: 0.5 };
    const found = dispersionOver(spreadsOf(drawWindows(seededRandom(7), steady, 48)));
    expect(found.dispersion).toBeLessThan(1.6);
  });
});
