/**
 * Do the limits hold what they promise? Simulated sensors whose true rate is known: the share of windows whose limits
 * contain it must be about the stated confidence for bursty counts too, where plain Poisson limits fail.
 */
import { describe, expect, it } from 'vitest';
import { dispersionOfBlocks, dispersionOver } from '../../src/stats/dispersion.js';
import { rateLimits } from '../../src/stats/poisson.js';
import { type BurstProcess, drawWindows, spreadsOf, truePerMin, WINDOWS_PER_HOUR } from './bursts.js';
import { seededRandom } from './random.js';

const HOURS_BEFORE = 48;
const HOURS_JUDGED = 8;

interface Coverage {
  poisson: number;
  tenSeconds: number;
  allBlocks: number;
}

/** Share of windows of `windowMin` that contain the true rate, with φ = 1, φ from 10 s blocks alone, and φ from all lengths. */
function coverageOf(process: BurstProcess, windowMin: number, sensors: number, seed: number): Coverage {
  const random = seededRandom(seed);
  const truth = truePerMin(process);
  const hits = { poisson: 0, tenSeconds: 0, allBlocks: 0 };
  let judged = 0;
  for (let sensor = 0; sensor < sensors; sensor++) {
    const windows = drawWindows(random, process, HOURS_BEFORE + HOURS_JUDGED);
    const before = windows.slice(0, HOURS_BEFORE * WINDOWS_PER_HOUR);
    const dispersions = {
      poisson: 1,
      tenSeconds: Math.max(1, dispersionOfBlocks(before, new Array<number>(before.length).fill(10)) ?? 1),
      allBlocks: dispersionOver(spreadsOf(before)).dispersion,
    };
    for (let i = before.length; i + windowMin * 6 <= windows.length; i += windowMin * 6) {
      const pulses = windows.slice(i, i + windowMin * 6).reduce((a, b) => a + b, 0);
      judged += 1;
      for (const name of ['poisson', 'tenSeconds', 'allBlocks'] as const) {
        const options = { confidence: 0.95, dispersion: dispersions[name], deadTimeS: 0 };
        const { lowerPerMin, upperPerMin } = rateLimits(pulses, windowMin * 60_000, options)!;
        if (lowerPerMin <= truth && truth <= upperPerMin) hits[name] += 1;
      }
    }
  }
  const share = (count: number): number => count / judged;
  return {
    poisson: share(hits.poisson),
    tenSeconds: share(hits.tenSeconds),
    allBlocks: share(hits.allBlocks),
  };
}

describe('coverage of 95 % limits', () => {
  it('is 95 % or a little more for Poisson counts, whatever the dispersion was estimated from', () => {
    const steady = { burstsPerHour: 1e-6, burstS: 1, burstPerS: 1, quietPerS: 0.3 };
    const found = coverageOf(steady, 10, 40, 11);

    for (const share of Object.values(found) as number[]) {
      expect(share).toBeGreaterThan(0.94);
      expect(share).toBeLessThan(0.99);
    }
  });

  it('holds for bursts of a minute with φ from all block lengths, and fails without', () => {
    const bursts = { burstsPerHour: 60, burstS: 60, burstPerS: 2, quietPerS: 0.05 };
    const found = coverageOf(bursts, 30, 40, 12);

    expect(found.poisson).toBeLessThan(0.3);
    expect(found.tenSeconds).toBeLessThan(0.8);
    expect(found.allBlocks).toBeGreaterThan(0.93);
  });

  it('holds for bursts of ten seconds over the 10 min window of an alarm', () => {
    const bursts = { burstsPerHour: 240, burstS: 10, burstPerS: 3, quietPerS: 0 };
    const found = coverageOf(bursts, 10, 40, 13);

    expect(found.poisson).toBeLessThan(0.6);
    expect(found.allBlocks).toBeGreaterThan(0.93);
  });
});
