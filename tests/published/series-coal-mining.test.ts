/**
 * Explosions in British coal mines, 1851 to 1962 (Maguire, Pearson and Wynn 1952, as corrected by Jarrett 1979), through the gateway: the
 * year of the change and the ratio of the rates as published, from its export.
 *
 * Time: a year becomes an hour, which is the period that changes and comparisons are worked out on. All years count the same.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Block, findChange, findChanges } from '../../src/stats/change-point.js';
import { compare, type CompareSide } from '../../src/stats/compare.js';
import { conditionalRatioLimits } from '../../src/stats/rate-ratio.js';
import { secondReference } from '../stats/jstat-library.js';
import { expectField, takeRecord, title } from './published.js';
import { ReplayedCounts } from './replayed-counts.js';

type Coal = Record<'n_years' | 'total' | 'last_year_of_first_regime' | 'lr_statistic', number> &
  Record<'counts' | 'years' | 'rates', number[]>;
const record = takeRecord<{ first_year: number; x: number[] }, Coal>('E12-coal-mining-changepoint');
const FIRST_YEAR = record.inputs.first_year;
const YEAR_S = 3600;

let replayed: ReplayedCounts;
let years: Block[];
beforeAll(async () => {
  replayed = await ReplayedCounts.replay({
    motor: 'mines',
    counts: record.inputs.x,
    intervalMs: YEAR_S * 1000,
    firstReading: 65_450,
  });
  const blocks = await replayed.runningBlocks('mines', '1h');
  years = blocks.map(({ pulses, exposure }) => ({ pulses, exposure: exposure / YEAR_S }));
});
afterAll(() => replayed.remove());

function pulsesOf(blocks: readonly Block[]): number {
  return blocks.reduce((sum, { pulses }) => sum + pulses, 0);
}

/** One side of a comparison, all in one bin, at least as dispersed as Poisson counts. */
function sideOf(blocks: readonly Block[], phi: number): CompareSide {
  const exposureMs = blocks.reduce((sum, { exposure }) => sum + exposure, 0) * YEAR_S * 1000;
  return { bins: [{ bin: 'all', pulses: pulsesOf(blocks), exposureMs, phi }], days: null };
}

describe('through the gateway', () => {
  it(title(record), () => {
    expect(years.every(({ exposure }) => exposure === 1)).toBe(true);
    const found = findChange(years, 1)!;
    const before = years.slice(0, found.index);
    const after = years.slice(found.index);
    expectField(record, 'n_years', years.length);
    expectField(record, 'total', pulsesOf(years));
    expectField(record, 'last_year_of_first_regime', FIRST_YEAR + found.index - 1);
    expectField(record, 'years', [before.length, after.length]);
    expectField(record, 'counts', [pulsesOf(before), pulsesOf(after)]);
    expectField(record, 'rates', [found.rateBefore, found.rateAfter]);
    expectField(record, 'lr_statistic', found.likelihoodRatio);
    expect(found.p).toBeLessThan(1e-12);
    expect(findChanges(years, null, 0.01)).toHaveLength(1);
    // from memory: Raftery and Akman (1986) find the change near 1890, most probably between 1887 and 1895
    expect(FIRST_YEAR + found.earliest - 1).toBeLessThanOrEqual(1887);
    expect(FIRST_YEAR + found.latest - 1).toBeGreaterThanOrEqual(1895);
  });

  it('after against before: 0.9 to 3.1 a year, as Carlin, Gelfand and Smith (1992) round them (from memory)', () => {
    const found = findChange(years, null)!;
    const before = years.slice(0, found.index);
    const after = years.slice(found.index);
    // no more dispersed about two rates than Poisson counts, which they are not about one
    expect(found.dispersion).toBeLessThan(1.1);
    const options = { confidence: 0.95, nullRatio: 1 };
    const answer = compare(sideOf(after, 1), sideOf(before, 1), options);
    const [rateBefore, rateAfter] = record.expected.rates as [number, number];
    expect(answer.ratio).toBeCloseTo(rateAfter / rateBefore, 9);
    expect([answer.pulses.b, answer.pulses.a]).toEqual(record.expected.counts);
    expect(answer.lower).toBeLessThan(0.9 / 3.1);
    expect(answer.upper).toBeGreaterThan(0.9 / 3.1);
    expect(answer.p.less).toBeLessThan(1e-9);
    // the exact limits, of ours and of another library, and those on the log scale, say the same of 127 and 64
    const [countBefore, countAfter] = record.expected.counts as [number, number];
    const [yearsBefore, yearsAfter] = record.expected.years as [number, number];
    const exact = conditionalRatioLimits(
      { pulses: countAfter, exposure: yearsAfter },
      { pulses: countBefore, exposure: yearsBefore },
      0.95,
    );
    const odds = (share: number): number => ((share / (1 - share)) * yearsBefore) / yearsAfter;
    expect(exact.lower / odds(secondReference.beta.inv(0.025, countAfter, countBefore + 1))).toBeCloseTo(
      1,
      6,
    );
    expect(exact.upper / odds(secondReference.beta.inv(0.975, countAfter + 1, countBefore))).toBeCloseTo(
      1,
      6,
    );
    expect(answer.lower / exact.lower).toBeCloseTo(1, 1);
    expect(answer.upper! / exact.upper).toBeCloseTo(1, 1);
  });

  it('the fall is told from chance in the years around it, too: ten before, ten after', () => {
    const index = record.expected.years[0]!;
    const answer = compare(
      sideOf(years.slice(index, index + 10), 1),
      sideOf(years.slice(index - 10, index), 1),
      {
        confidence: 0.95,
        nullRatio: 1,
      },
    );
    expect(answer.method).toBe('conditional-exact');
    const wanted = record.inputs.x;
    const count = (from: number): number => wanted.slice(from, from + 10).reduce((a, b) => a + b, 0);
    expect(answer.pulses).toEqual({ a: count(index), b: count(index - 10) });
    expect(answer.upper).toBeLessThan(1);
  });
});
