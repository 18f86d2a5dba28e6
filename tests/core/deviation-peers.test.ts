/** The odd one out, silence in company, and the slow look's heights. */
import { describe, expect, it } from 'vitest';
import { addRiseHour, newRise } from '../../src/core/deviation/rise.js';
import { riseThreshold } from '../../src/core/deviation/rise-threshold.js';
import { scorePeers, type Peer } from '../../src/core/deviation/peers.js';
import { isSilent } from '../../src/core/deviation/silence.js';

const HOUR_MS = 3_600_000;

function group(name: string, pulses: readonly number[]): Peer[] {
  return pulses.map((n, i) => ({
    key: `${name}${i + 1}`,
    cells: [{ bin: 'all', pulses: n, ms: 24 * HOUR_MS, dispersion: 3 }],
  }));
}

const HEALTHY = [1000, 1100, 920, 1180, 870, 1050, 960, 1020];

describe('peers', () => {
  it('one of a group that discharges three times as often is odd', () => {
    const scores = scorePeers([group('a', [...HEALTHY.slice(0, 7), 3100]), group('b', HEALTHY)]);
    expect(scores.filter(({ odd }) => odd).map(({ key }) => key)).toEqual(['a8']);
    expect(scores.find(({ key }) => key === 'a8')!.ratio).toBeCloseTo(3.02, 2);
  });

  it('two of eight are both odd', () => {
    const scores = scorePeers([group('a', [...HEALTHY.slice(0, 6), 3000, 3200]), group('b', HEALTHY)]);
    expect(scores.filter(({ odd }) => odd).map(({ key }) => key)).toEqual(['a7', 'a8']);
  });

  it('two of four cannot be told apart: nobody is odd, and the group says so', () => {
    const scores = scorePeers([group('a', [1000, 1050, 3000, 3200]), group('b', HEALTHY)]);
    expect(scores.filter(({ key }) => key.startsWith('a')).map(({ torn, odd }) => [torn, odd])).toEqual(
      Array.from({ length: 4 }, () => [true, false]),
    );
  });

  it('compares like bins with like: a motor that ran at high load alone is not odd for it', () => {
    const two = (low: number, high: number, lowH: number, highH: number): Peer['cells'] => [
      { bin: 'low', pulses: low * lowH, ms: lowH * HOUR_MS, dispersion: 2 },
      { bin: 'high', pulses: high * highH, ms: highH * HOUR_MS, dispersion: 2 },
    ];
    const peers = [0, 1, 2, 3, 4].map((i) => ({ key: `m${i}`, cells: two(100, 500, 20, 4) }));
    const scores = scorePeers([[...peers, { key: 'm5', cells: two(100, 500, 1, 23) }]]);
    expect(scores.find(({ key }) => key === 'm5')!.ratio).toBeCloseTo(1, 2);
  });

  it('a motor without a count has a score, and few counts are not odd by noise alone', () => {
    const scores = scorePeers([group('a', [0, 3, 2, 4, 9, 3]), group('b', HEALTHY)]);
    expect(scores.filter(({ odd }) => odd)).toEqual([]);
    expect(scores.find(({ key }) => key === 'a1')!.ratio).toBeLessThan(1);
  });

  it('groups of fewer than four are not compared', () => {
    expect(scorePeers([group('a', [10, 10, 90])])).toEqual([]);
  });
});

describe('silence', () => {
  it('is told where bursts cannot explain it, never where a pulse came', () => {
    expect(isSilent(0, 2000, 5, 0.001)).toBe(true);
    expect(isSilent(0, 100, 5, 0.001)).toBe(false);
    expect(isSilent(1, 2000, 5, 0.001)).toBe(false);
  });
});

describe('rise', () => {
  it('lets a fifth pass for ever, climbs at a half more, and at three times needs two hours at least', () => {
    const expected = { pulses: 360, variance: 360 * 10, doubt: 0 };
    const climb = (factor: number): number => {
      const rise = newRise();
      const height = riseThreshold(36, 1e6);
      for (let hour = 1; hour <= 1000; hour++) {
        addRiseHour(rise, hour * HOUR_MS, 360 * factor, HOUR_MS, expected);
        if (rise.height > height) return hour;
      }
      return Infinity;
    };
    expect(climb(1.2)).toBe(Infinity);
    expect(climb(1.5)).toBeLessThan(24);
    expect(climb(3)).toBeGreaterThanOrEqual(2);
    expect(climb(3)).toBeLessThanOrEqual(6);
  });

  it('heights grow with the run length asked for, beyond the table too', () => {
    const heights = [1e3, 1e4, 1e5, 1e6, 1e7].map((hours) => riseThreshold(5, hours));
    expect([...heights].sort((a, b) => a - b)).toEqual(heights);
    expect(heights[4]! - heights[3]!).toBeCloseTo(heights[3]! - heights[2]!, 9);
  });
});
