/** The odd one out in simulated plants, and the parts of its score. */
import { describe, expect, it } from 'vitest';
import { adjustP } from '../../src/stats/false-discovery.js';
import { expectPulses, logRate, type MotorBin, trigamma } from '../../src/stats/log-rate.js';
import { normalQuantile } from '../../src/stats/normal.js';
import { medianVariance, type PeerRate, scorePeers } from '../../src/stats/peers.js';
import { drawPoisson, seededRandom } from './random.js';

/** A group of motors with healthy spread 0.15, pulses in lumps of 5, and the first `odd` of them raised 3-fold. */
function drawGroup(random: () => number, name: string, size: number, mean: number, odd: number): PeerRate[] {
  return Array.from({ length: size }, (_, i) => {
    const rate = mean * Math.exp(0.15 * normalQuantile(random())) * (i < odd ? 3 : 1);
    return { motor: `${name}-${i}`, ...logRate(5 * drawPoisson(random, rate / 5), 1, 5)! };
  });
}

describe('log rate', () => {
  it('has the variance of ln of a gamma variable', () => {
    expect(trigamma(1)).toBeCloseTo(Math.PI ** 2 / 6, 13);
    expect(trigamma(0.5)).toBeCloseTo(Math.PI ** 2 / 2, 12);
    expect(trigamma(1000)).toBeCloseTo(0.001000500166666633, 15);
    expect(() => trigamma(0)).toThrow(RangeError);
  });

  it('is defined for zero pulses, and without bias for few', () => {
    expect(logRate(0, 10, 4)!.value).toBeCloseTo(Math.log(0.2), 12);
    expect(logRate(0, 10, 4)!.variance).toBeCloseTo(Math.PI ** 2 / 2, 12);
    expect(logRate(3, 0, 1)).toBeNull();
    const random = seededRandom(5);
    let sum = 0;
    for (let i = 0; i < 4000; i++) sum += logRate(drawPoisson(random, 12), 12, 1)!.value;
    expect(Math.abs(sum / 4000)).toBeLessThan(0.02);
  });
});

describe('expected pulses', () => {
  it('follow the conditions that a motor ran in, and not the raised sister who ran there too', () => {
    const cells: MotorBin[] = [];
    // fast discharges 10 times as often as slow; c is raised 4-fold and runs fast most of the time
    for (const [motor, slow, fast, factor] of [
      ['a', 90, 10, 1],
      ['b', 50, 50, 1],
      ['c', 10, 90, 4],
      ['d', 80, 20, 1],
    ] as const) {
      cells.push({ motor, bin: 'slow', pulses: slow * factor, exposureMs: slow });
      cells.push({ motor, bin: 'fast', pulses: 10 * fast * factor, exposureMs: fast });
    }
    cells.push({ motor: 'a', bin: 'alone', pulses: 1e6, exposureMs: 1 });
    const found = expectPulses(cells);
    for (const [motor, factor] of [
      ['a', 1],
      ['b', 1],
      ['c', 4],
      ['d', 1],
    ] as const) {
      const { pulses, expected } = found.get(motor)!;
      expect(pulses / expected).toBeCloseTo(factor, 6);
    }
  });
});

describe('odd one out', () => {
  it('the variance of a median is what the table says', () => {
    const random = seededRandom(1);
    for (const n of [3, 6, 15]) {
      let squares = 0;
      for (let i = 0; i < 6000; i++) {
        const x = Array.from({ length: n }, () => normalQuantile(random())).sort((a, b) => a - b);
        squares += (n % 2 === 1 ? x[n >> 1]! : (x[n / 2]! + x[n / 2 - 1]!) / 2) ** 2;
      }
      expect(Math.abs(squares / 6000 / medianVariance(n) - 1), `n = ${n}`).toBeLessThan(0.06);
    }
  });

  it('is found first and called in a plant of 60, and healthy motors are not', () => {
    const random = seededRandom(12);
    let first = 0;
    let called = 0;
    let wrong = 0;
    const plants = 60;
    for (let i = 0; i < plants; i++) {
      const groups = Array.from({ length: 8 }, (_, g) =>
        drawGroup(random, `${g}`, 6 + (g % 3), 3000, g === 0 ? 1 : 0),
      );
      const motors = scorePeers(groups).groups.flatMap((group) => group.motors);
      const top = motors.reduce((best, motor) => (motor.score > best.score ? motor : best));
      if (top.motor === '0-0') first += 1;
      const adjusted = adjustP(motors.map(({ pAbove }) => pAbove));
      motors.forEach(({ motor, pAbove, ratio }, k) => {
        if (!(pAbove < 0.0005 && ratio > 2 && adjusted[k]! < 0.05)) return;
        if (motor === '0-0') called += 1;
        else wrong += 1;
      });
    }
    expect(first / plants).toBeGreaterThanOrEqual(0.97);
    expect(called / plants).toBeGreaterThan(0.95);
    expect(wrong).toBeLessThanOrEqual(1);
  });

  it('both of two odd ones in a group of eight are found', () => {
    const random = seededRandom(4);
    let found = 0;
    for (let i = 0; i < 40; i++) {
      const groups = Array.from({ length: 7 }, (_, g) => drawGroup(random, `${g}`, 8, 3000, g === 0 ? 2 : 0));
      const [odd] = scorePeers(groups).groups;
      if (odd!.motors.slice(0, 2).every(({ pAbove, ratio }) => pAbove < 0.0005 && ratio > 2)) found += 1;
      expect(odd!.isDivided).toBe(false);
    }
    expect(found / 40).toBeGreaterThan(0.8);
  });

  it('two odd ones in a group of four cannot be told apart from the other two', () => {
    const random = seededRandom(6);
    const groups = [drawGroup(random, 'x', 4, 5000, 2)];
    for (let g = 0; g < 7; g++) groups.push(drawGroup(random, `${g}`, 8, 5000, 0));
    const scores = scorePeers(groups);
    expect(scores.groups[0]!.isDivided).toBe(true);
    expect(scores.groups.slice(1).some(({ isDivided }) => isDivided)).toBe(false);
  });

  it('few counts make no motor odd; the pooled spread leaves chance out', () => {
    const random = seededRandom(9);
    const few = Array.from({ length: 30 }, (_, g) => drawGroup(random, `${g}`, 6, 20, 0));
    const found = scorePeers(few);
    const p = found.groups.flatMap((group) => group.motors.map(({ pTwoSided }) => pTwoSided));
    expect(Math.min(...p)).toBeGreaterThan(0.0005);
    let sum = 0;
    for (let i = 0; i < 6; i++) {
      const many = Array.from({ length: 40 }, (_, g) => drawGroup(random, `${g}`, 7, 20_000, 0));
      sum += scorePeers(many).spread;
    }
    // one plant of 280 motors knows its spread to about 8 %
    expect(sum / 6).toBeGreaterThan(0.135);
    expect(sum / 6).toBeLessThan(0.165);
  });

  it('p-values are fair: 5 % of healthy motors lie below 5 %', () => {
    const random = seededRandom(10);
    let below = 0;
    let all = 0;
    for (let i = 0; i < 40; i++) {
      const groups = Array.from({ length: 6 }, (_, g) => drawGroup(random, `${g}`, 6, 2000, 0));
      for (const { pTwoSided } of scorePeers(groups).groups.flatMap(({ motors }) => motors)) {
        all += 1;
        if (pTwoSided < 0.05) below += 1;
      }
    }
    expect(below / all).toBeGreaterThan(0.02);
    expect(below / all).toBeLessThan(0.075);
  });

  it('groups of one or two say nothing', () => {
    const random = seededRandom(3);
    expect(scorePeers([drawGroup(random, 'x', 2, 100, 0)]).groups).toEqual([
      { motors: [], isDivided: false },
    ]);
  });
});
