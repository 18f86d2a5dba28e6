/** Trends of simulated days: how often one is called where there is none, and whether the slope is found where there is one. */
import { describe, expect, it } from 'vitest';
import { normalQuantile } from '../../src/stats/normal.js';
import { correctVariance, correlateWithSelf, rankValues } from '../../src/stats/serial-correlation.js';
import { estimateSlope, findTrend } from '../../src/stats/trend.js';
import { seededRandom } from './random.js';

/** Days of ln rate: each remembers `memory` of the day before it, and all grow by `slope` a day. */
function drawDays(random: () => number, days: number, memory: number, slope: number): number[] {
  const x: number[] = [];
  let level = normalQuantile(random()) / Math.sqrt(1 - memory * memory);
  for (let day = 0; day < days; day++) {
    level = memory * level + normalQuantile(random());
    x.push(level + slope * day);
  }
  return x;
}

function countUp(n: number): number[] {
  return Array.from({ length: n }, (_, i) => i);
}

/** Share of series whose p is below 5 %. */
function shareCalled(memory: number, days: number, isCorrected: boolean): number {
  const random = seededRandom(31 + days);
  let called = 0;
  for (let i = 0; i < 300; i++) {
    const x = drawDays(random, days, memory, 0);
    const options = isCorrected ? undefined : { lagsMax: 0, floor: 1, alpha: 0.05, isFading: false };
    if (findTrend(countUp(days), x, 0.95, options)!.p < 0.05) called += 1;
  }
  return called / 300;
}

describe('trend', () => {
  it('is called in about 5 % of independent days', () => {
    expect(shareCalled(0, 60, false)).toBeLessThan(0.09);
    expect(shareCalled(0, 60, true)).toBeLessThan(0.09);
    expect(shareCalled(0, 60, false)).toBeGreaterThan(0.02);
  });

  it('is called far too often in days that resemble one another, unless that is allowed for', () => {
    expect(shareCalled(0.5, 60, false)).toBeGreaterThan(0.2);
    expect(shareCalled(0.5, 60, true)).toBeLessThan(0.13);
  });

  it('finds a true slope within its limits, with the correlation', () => {
    const random = seededRandom(8);
    let hits = 0;
    for (let i = 0; i < 300; i++) {
      const found = findTrend(countUp(90), drawDays(random, 90, 0.3, 0.02))!;
      if (found.lower <= 0.02 && 0.02 <= found.upper) hits += 1;
    }
    expect(hits / 300).toBeGreaterThan(0.9);
  });

  it('counts p out for few values', () => {
    expect(findTrend([1, 2, 3, 4], [1, 3, 7, 9])!.p).toBeCloseTo(2 / 24, 12);
    expect(findTrend([1, 2, 3], [1, 3, 7])).toBeNull();
    expect(findTrend([2, 2, 2, 2], [1, 3, 7, 9])).toBeNull();
  });

  it('has open limits where the pairs are too few', () => {
    const line = estimateSlope([1, 2, 3], [1, 2, 4], 3.67, 0.9999)!;
    expect([line.lower, line.slope, line.upper]).toEqual([-Infinity, 1.5, Infinity]);
    expect(() => estimateSlope([1, 2], [1], 1, 0.95)).toThrow(RangeError);
  });
});

describe('serial correlation', () => {
  it('ranks share ties', () => {
    expect(rankValues([3, 1, 3, 7])).toEqual([2.5, 1, 2.5, 4]);
  });

  it('is −½ and so on for a list that swings', () => {
    const rho = correlateWithSelf([1, -1, 1, -1], 3);
    expect(rho).toEqual([1, -0.75, 0.5, -0.25]);
    expect(correlateWithSelf([2, 2, 2], 1)).toEqual([0, 0]);
  });

  it('widens, never narrows, unless the published form is asked for', () => {
    const swinging = Array.from({ length: 40 }, (_, i) => (i % 2) * 10 + Math.sin(i));
    expect(correctVariance(swinging)).toBe(1);
    expect(correctVariance(swinging, { lagsMax: 1, floor: 0, alpha: 0.05, isFading: false })).toBeLessThan(
      0.3,
    );
    const slow = Array.from({ length: 40 }, (_, i) => Math.sin(i / 4));
    expect(correctVariance(slow)).toBeGreaterThan(3);
    expect(correctVariance([1, 2, 3])).toBe(1);
  });
});
