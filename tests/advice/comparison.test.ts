import { describe, expect, it } from 'vitest';
import { compareAxes, readBinName } from '../../src/advice/axes.js';
import { tellBaseline, writeLacking, type BaselineBin } from '../../src/advice/baseline.js';
import { answerComparison, writeHours } from '../../src/advice/comparison.js';
import { findMissing, isEnough, writeMissing } from '../../src/advice/exposure.js';
import { writeFactor, writeRatio } from '../../src/advice/judgement.js';
import { joinSides, unlikeReason } from '../../src/advice/side.js';
import { placeSisters } from '../../src/advice/sisters.js';
import { makeDays, makeSide } from './sides.js';

describe('an answer', () => {
  it('is one plain sentence with ratio, limits and shared exposure', () => {
    const { sentence, ratio, sharedMs } = answerComparison(
      makeSide('booster-4 de', { all: [6100, 31, 20] }),
      makeSide('the median of its group', { all: [1000, 31, 15] }),
    );
    expect(ratio).toBeCloseTo(6.1, 10);
    expect(sharedMs).toBe(31 * 3_600_000);
    // ln 6.1 ± 1.96 √(20/6100 + 15/1000)
    expect(sentence).toBe(
      'booster-4 de discharges 6.1 times (4.7 to 8.0) as often as the median of its group, under like conditions, ' +
        'over 31 h shared.',
    );
  });

  it('leaves out what is not alike, and says why', () => {
    const a = makeSide('a', { 'speed 600..1200': [100, 10], 'speed ?': [5, 2], mixed: [9, 1] });
    const b = makeSide('b', { 'speed 600..1200': [100, 10], 'speed 1200..': [50, 5], learning: [7, 3] });
    const { binsUsed, binsLeftOut, notes } = answerComparison(a, b);
    expect(binsUsed.map(({ bin }) => bin)).toEqual(['speed 600..1200']);
    expect(new Map(binsLeftOut.map(({ bin, reason }) => [bin, reason]))).toEqual(
      new Map([
        ['speed 1200..', 'only the second side has been there'],
        ['speed ?', 'a condition is not known'],
        ['mixed', 'the conditions changed within an increment'],
        ['learning', 'counted before the edges of the bins were learnt'],
      ]),
    );
    expect(notes.join(' ')).toContain('35 % of the running time');
  });

  it('says nothing where nothing is shared', () => {
    const { method, sentence, ratio } = answerComparison(
      makeSide('a', { 'load ..50': [10, 1] }),
      makeSide('b', { 'load 50..': [10, 1] }),
    );
    expect([method, ratio]).toEqual([null, null]);
    expect(sentence).toBe('a and b have met no like conditions: nothing can be said.');
  });

  it('a silent side has one limit and a sentence of its own', () => {
    const silent = makeSide('after', { all: [0, 40] });
    const loud = makeSide('before', { all: [400, 40] });
    expect(answerComparison(silent, loud).sentence).toMatch(
      /^after did not discharge, at most 0\.0\d+ times as often as before/,
    );
    expect(answerComparison(loud, silent).sentence).toMatch(
      /^before discharges at least \d+ times as often as after, which did not/,
    );
    expect(answerComparison(silent, silent).sentence).toMatch(/^Neither after nor after discharged/);
  });

  it('with a week of days on both sides the limits come from the days', () => {
    const before = makeDays('before', 0, [90, 110, 100, 95, 105, 120, 80]);
    const after = makeDays('after', 10, [45, 55, 50, 47, 53, 60, 40]);
    const { method, days, ratio, lower, upper } = answerComparison(after, before);
    expect([method, days]).toEqual(['jackknife', 14]);
    expect(ratio).toBeCloseTo(0.5, 10);
    expect(lower).toBeGreaterThan(0.4);
    expect(upper).toBeLessThan(0.65);
  });

  it('limits without enough blocks to know the bursts are called uncertain', () => {
    const side = makeSide('a', { all: [100, 1] });
    const uncertain = { ...side, bins: side.bins.map((bin) => ({ ...bin, isPhiUncertain: true })) };
    expect(answerComparison(uncertain, side).notes.join(' ')).toContain('uncertain');
    expect(answerComparison(side, side).notes).toEqual([]);
  });
});

describe('the middle of the sisters', () => {
  const own = makeSide('m', { all: [1000, 10] });
  const sister = (name: string, pulses: number, hours = 10) => makeSide(name, { all: [pulses, hours] });

  it('is one sister, or two together, whatever the loudest does', () => {
    const odd = placeSisters(own, [sister('a', 90), sister('b', 100), sister('c', 90_000)]);
    expect(odd.middle?.map(({ name }) => name)).toEqual(['b']);
    expect(odd.placed.map(({ name }) => name)).toEqual(['c', 'b', 'a']);
    const even = placeSisters(own, [
      sister('a', 90),
      sister('b', 100),
      sister('c', 110),
      sister('d', 90_000),
    ]);
    expect(even.middle?.map(({ name }) => name).sort()).toEqual(['b', 'c']);
  });

  it('needs two sisters with four hours shared', () => {
    expect(placeSisters(own, [sister('a', 100), sister('b', 100, 3)])).toMatchObject({
      middle: null,
      leftOut: [{ name: 'b', sharedMs: 3 * 3_600_000 }],
    });
    expect(placeSisters(own, [sister('a', 100), sister('b', 100, 4)]).middle).toHaveLength(2);
  });

  it('a silent sister is the quietest, two silent sides are alike', () => {
    expect(placeSisters(own, [sister('a', 0), sister('b', 10)]).placed.map(({ name }) => name)).toEqual([
      'b',
      'a',
    ]);
    const silent = makeSide('m', { all: [0, 10] });
    expect(placeSisters(silent, [sister('a', 0), sister('b', 0)]).placed.map(({ ratio }) => ratio)).toEqual([
      1, 1,
    ]);
  });

  it('sides together keep pulses, time, days and the variance of their sum', () => {
    const joined = joinSides('both', [makeDays('a', 0, [10, 20], 2), makeDays('b', 1, [30], 4)]);
    expect(joined.bins).toMatchObject([
      { bin: 'all', pulses: 60, ms: 30 * 3_600_000, phi: (30 * 2 + 30 * 4) / 60 },
    ]);
    expect(joined.days.map(({ pulses }) => pulses)).toEqual([10, 50]);
  });
});

describe('before and after', () => {
  it('waits for exposure, judged by the rate before, and says what is missing', () => {
    const before = makeDays('before', 0, [100, 100, 100]);
    expect(writeMissing(findMissing(before, makeDays('after', 5, [])))).toBe(
      'not enough exposure yet: 8.0 h of running and 2 days more after it',
    );
    expect(isEnough(findMissing(before, makeDays('after', 5, [0, 0])))).toBe(true);
    const bursty = makeDays('before', 0, [100, 100, 100], 10);
    expect(writeMissing(findMissing(bursty, makeDays('after', 5, [3, 4])))).toBe('');
    const rare = makeDays('before', 0, [10, 10, 10], 10);
    expect(writeMissing(findMissing(rare, makeDays('after', 5, [1, 1])))).toBe(
      'not enough exposure yet: 170 pulses more before it; 180 h of running more after it',
    );
  });

  it('never depends on how the counts after it turn out', () => {
    const before = makeDays('before', 0, [100, 100, 100]);
    for (const pulses of [0, 1, 1000])
      expect(findMissing(before, makeDays('after', 5, [pulses, pulses]))).toMatchObject({
        afterMs: 0,
        afterDays: 0,
      });
  });
});

describe('along one axis', () => {
  it('names are read into cells', () => {
    expect([...readBinName('speed 600..1200, load ..50')]).toEqual([
      ['speed', { name: '600..1200', from: 600 }],
      ['load', { name: '..50', from: -Infinity }],
    ]);
    expect(readBinName('all').size).toBe(0);
    expect(readBinName('temperature -10..5').get('temperature')).toEqual({ name: '-10..5', from: -10 });
    expect(readBinName('switching 2.5..4, dc-link 600..').get('dcLink')).toEqual({
      name: '600..',
      from: 600,
    });
  });

  it('the outermost cells are compared with all other axes alike', () => {
    const side = makeSide('m', {
      'speed ..600, load ..50': [100, 10],
      'speed ..600, load 50..': [1000, 10],
      'speed 600..1200, load 50..': [1500, 10],
      'speed 1200.., load ..50': [300, 10],
      'speed 1200.., load 50..': [300, 0.1],
    });
    const [speed, load] = compareAxes(side);
    expect(speed).toMatchObject({ axis: 'speed', low: '..600', high: '1200..' });
    expect(speed?.ratio).toBeGreaterThan(2.9);
    expect(load).toMatchObject({ axis: 'load', low: '..50', high: '50..' });
  });

  it('too little shared: the next pair inwards, or none', () => {
    const side = makeSide('m', {
      'speed ..600': [10, 9],
      'speed 600..1200': [10, 9],
      'speed 1200..': [1, 0.5],
    });
    expect(compareAxes(side)).toMatchObject([{ low: '..600', high: '600..1200' }]);
    expect(compareAxes(makeSide('m', { all: [100, 10] }))).toEqual([]);
    expect(compareAxes(makeSide('m', { 'speed ..600': [10, 9], 'speed ?': [10, 9] }))).toEqual([]);
  });
});

describe('baselines in words', () => {
  const bin: BaselineBin = {
    bin: 'all',
    state: 'learning',
    from: 0,
    to: 0,
    pulses: 600,
    ms: 36_000_000,
    days: 3,
    phi: 2,
    dayPhi: null,
    lacking: { runningMs: 36_000_000, days: 4, pulses: 0, unsteady: '' },
  };

  it('say what is missing: hours, days, pulses, steadiness', () => {
    expect(tellBaseline('pump-1/de', 0, [bin]).sentence).toBe(
      'pump-1 DE has no yardstick yet: all needs 10 h of running and 4 days more.',
    );
    expect(writeLacking({ runningMs: 0, days: 1, pulses: 40, unsteady: 'the rate rises' })).toBe(
      '1 day and 40 pulses more; a steadier period: the rate rises',
    );
    expect(tellBaseline('pump-1/de', null, []).sentence).toContain('nothing has run');
  });

  it('one learnt bin is a yardstick, a stale one alone is none', () => {
    const learnt = { ...bin, state: 'learnt' as const, lacking: null };
    expect(tellBaseline('pump-1/de', 0, [bin, { ...learnt, bin: 'b', ms: 1 }])).toMatchObject({
      state: 'learnt',
    });
    expect(tellBaseline('pump-1/de', 0, [learnt]).sentence).toBe(
      'pump-1 DE has a yardstick in 1 bin: 1.0 pulses a minute in all, over 10 h on 3 days.',
    );
    expect(tellBaseline('pump-1/de', 0, [{ ...learnt, state: 'stale' }]).state).toBe('stale');
  });
});

describe('figures in words', () => {
  it('two digits that count, or all before the point', () => {
    expect([0, 0.0843, 0.5, 0.998, 1, 6.13, 9.96, 31.4, 31_400].map(writeFactor)).toEqual([
      '0',
      '0.084',
      '0.50',
      '1.0',
      '1.0',
      '6.1',
      '10',
      '31',
      '31,400',
    ]);
    expect(writeRatio({ ratio: 6.1, lower: 4.8, upper: null })).toBe('6.1 (4.8 or more)');
    expect(writeRatio({ ratio: 1.04, lower: 0.962, upper: 1.08 })).toBe('1.04 (0.96 to 1.08)');
    expect(writeRatio({ ratio: 0.998, lower: 0.97, upper: 2.1 })).toBe('1.00 (0.97 to 2.1)');
    expect(writeRatio({ ratio: 3, lower: 2.98, upper: 3.02 })).toBe('3.00 (2.98 to 3.02)');
    expect(writeRatio({ ratio: 0, lower: 0, upper: 0.012 })).toBe('0 (0 to 0.012)');
    expect([60_000, 35_999_000, 36_000_000, 3_600_000_000].map(writeHours)).toEqual([
      '1 min',
      '10.0 h',
      '10 h',
      '1,000 h',
    ]);
  });

  it('an unknown value on any axis is not alike', () => {
    expect(unlikeReason('speed 600..1200, load ?')).toBe('a condition is not known');
    expect(unlikeReason('speed 600..1200, load ..50')).toBeNull();
    expect(unlikeReason('all')).toBeNull();
  });
});
