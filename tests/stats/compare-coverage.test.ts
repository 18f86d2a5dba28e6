/** Do the limits of a comparison hold what they promise, on bursty counts whose dispersion had to be estimated? */
import { describe, expect, it } from 'vitest';
import { compare, type CompareSide } from '../../src/stats/compare.js';
import { longDispersion } from '../../src/stats/dispersion.js';
import { drawCount } from './draw.js';
import type { DayCount } from '../../src/stats/jackknife.js';
import { type BurstProcess, drawWindows, spreadsOf } from './bursts.js';
import { seededRandom } from './random.js';

const HOUR = 3_600_000;
const HOURS_LEARNT = 48;
/** So many that chance alone moves a share of 95 % by no more than 0.7 %: 300 were too few to tell 93 from 96. */
const TRIALS = 1000;

/** One bin: φ from 48 hours, the newest `hours` of which are compared. `factor` multiplies all rates. */
function drawSide(random: () => number, process: BurstProcess, factor: number, hours: number): CompareSide {
  const scaled = { ...process, burstPerS: process.burstPerS * factor, quietPerS: process.quietPerS * factor };
  const spreads = spreadsOf(drawWindows(random, scaled, HOURS_LEARNT));
  const { phi, freedom } = longDispersion(spreads);
  const pulses = spreads.slice(0, hours).reduce((sum, spread) => sum + spread.pulses, 0);
  return { bins: [{ bin: 'x', pulses, exposureMs: hours * HOUR, phi, phiFreedom: freedom }], days: null };
}

/** Share of comparisons that hold the true ratio, among those with N/φ ≥ 20 on both sides, and their number. */
function coverageOf(process: BurstProcess, ratio: number, hours: number, seed: number): [number, number] {
  const random = seededRandom(seed);
  let held = 0;
  let judged = 0;
  for (let i = 0; i < TRIALS; i++) {
    const a = drawSide(random, process, ratio, hours);
    const b = drawSide(random, process, 1, HOURS_LEARNT);
    if ([a, b].some(({ bins: [only] }) => only!.pulses / only!.phi < 20)) continue;
    const found = compare(a, b, { confidence: 0.95, nullRatio: 1 });
    judged += 1;
    if (found.lower <= ratio && (found.upper === null || ratio <= found.upper)) held += 1;
  }
  return [held / judged, judged];
}

describe('coverage of 95 % limits of a ratio', () => {
  for (const [name, process, ratio, hours] of [
    ['steady', { burstsPerHour: 1e-6, burstS: 1, burstPerS: 1, quietPerS: 0.05 }, 0.2, 8],
    ['bursts of 5 s', { burstsPerHour: 120, burstS: 5, burstPerS: 2, quietPerS: 0.01 }, 1, 8],
    ['bursts of 60 s', { burstsPerHour: 20, burstS: 60, burstPerS: 0.3, quietPerS: 0.02 }, 3, 12],
    ['bursts of 300 s', { burstsPerHour: 6, burstS: 300, burstPerS: 0.07, quietPerS: 0.02 }, 1, 48],
  ] as const) {
    it(`${name}: 93 to 99 %`, () => {
      const [share, judged] = coverageOf(process, ratio, hours, 21);
      expect(judged).toBeGreaterThan(700);
      expect(share).toBeGreaterThanOrEqual(0.93);
      expect(share).toBeLessThanOrEqual(0.99);
    });
  }

  it('the jackknife holds it where days differ, which no dispersion of hours sees', () => {
    const random = seededRandom(33);
    let jackknife = 0;
    let plain = 0;
    for (let i = 0; i < 400; i++) {
      const side = (name: string): CompareSide => {
        const days = Array.from({ length: 14 }, (_, d): DayCount => {
          const level = drawCount(random, 100, 4) * 20;
          return { day: `${name}${d}`, bin: 'x', pulses: drawCount(random, level, 3), exposureMs: 8 * HOUR };
        });
        const pulses = days.reduce((sum, day) => sum + day.pulses, 0);
        return { bins: [{ bin: 'x', pulses, exposureMs: 14 * 8 * HOUR, phi: 3 }], days };
      };
      const a = side('a');
      const b = side('b');
      const holds = ({ lower, upper }: { lower: number; upper: number | null }): boolean =>
        lower <= 1 && 1 <= upper!;
      const options = { confidence: 0.95, nullRatio: 1 };
      if (holds(compare(a, b, options))) jackknife += 1;
      if (holds(compare({ ...a, days: null }, { ...b, days: null }, options))) plain += 1;
    }
    expect(jackknife / 400).toBeGreaterThanOrEqual(0.93);
    expect(jackknife / 400).toBeLessThanOrEqual(0.99);
    expect(plain / 400).toBeLessThan(0.5);
  });
});
