/**
 * Alpha particles of polonium, counted by Rutherford and Geiger (1910) in 2,608 eighths of a minute, through the gateway: rate, dispersion
 * and fit as published, from its export.
 *
 * Time: an eighth of a minute (7.5 s) becomes one base window of 10 s, so that the published unit is one that the gateway sums by.
 * Order: print gives frequencies alone; the counts are dealt out by seed 1910. Rate, index of dispersion and fit know no order.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BLOCK_LENGTHS_MS, dispersionOfBlocks, pearson } from '../../src/stats/dispersion.js';
import { gammaQ } from '../../src/stats/gamma.js';
import { poissonLimits, poissonUpperTail } from '../../src/stats/poisson.js';
import { seedRandom } from '../support/seeded-random.js';
import { expectField, type Frequencies, takeRecord, title, unfoldCounts } from './published.js';
import { ReplayedCounts } from './replayed-counts.js';

interface Alpha {
  intervals: number;
  particles: number;
  mean: number;
  variance: number;
  index: number;
  index_chi2: number;
  expected_lambda_3_870: number[];
  chi2_11_classes: number;
  p_df9: number;
}

const record = takeRecord<Frequencies, Alpha>('C01-rutherford-geiger');
const INTERVAL_MS = 10_000;
const INTERVALS_PER_MIN = 60_000 / INTERVAL_MS;
const RATE_PER_MIN = record.expected.mean * INTERVALS_PER_MIN;

/** A copy in an order that the seed gives. Source: R. A. Fisher and F. Yates, Statistical Tables (1938), example 12. */
function dealOut(counts: readonly number[], seed: number): number[] {
  const random = seedRandom(seed);
  const dealt = [...counts];
  for (let i = dealt.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    [dealt[i], dealt[j]] = [dealt[j]!, dealt[i]!];
  }
  return dealt;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

const dealt = dealOut(unfoldCounts(record.inputs), 1910);
let replayed: ReplayedCounts;
beforeAll(async () => {
  const quoted = (share: number): string =>
    `{ setpointPerMin: ${(share * RATE_PER_MIN).toFixed(2)}, windowMs: 3600000, rationale: A share of the published rate. }`;
  replayed = await ReplayedCounts.replay({
    motor: 'polonium',
    counts: dealt,
    intervalMs: INTERVAL_MS,
    firstReading: 60_000,
    alarms: `{ rate-high: ${quoted(0.8)}, rate-high-high: ${quoted(1.2)} }`,
  });
});
afterAll(() => replayed.remove());

describe('through the gateway', () => {
  it(title(record), async () => {
    const blocks = await replayed.runningBlocks('polonium', '10s');
    expect(blocks.every(({ exposure }) => exposure === INTERVAL_MS / 1000)).toBe(true);
    const x = blocks.map(({ pulses }) => pulses);
    const index = dispersionOfBlocks(
      x,
      blocks.map(({ exposure }) => exposure),
    )!;
    const mean = sum(x) / x.length;
    expectField(record, 'intervals', x.length);
    expectField(record, 'particles', sum(x));
    expectField(record, 'mean', mean);
    expectField(record, 'variance', index * mean);
    expectField(record, 'index', index);
    expectField(record, 'index_chi2', index * (x.length - 1));
    // λ = 3.870, eleven classes, 10 and more in one: from Cramér's table, which the record has from memory and worked out again
    const fitted = Array.from({ length: 11 }, (_, k) => {
      const above = k === 10 ? 0 : poissonUpperTail(k + 1, 3.87);
      return x.length * (poissonUpperTail(k, 3.87) - above);
    });
    expectField(record, 'expected_lambda_3_870', fitted);
    const seen = fitted.map((_, k) => x.filter((v) => (k === 10 ? v >= 10 : v === k)).length);
    const fit = sum(seen.map((v, k) => (v - fitted[k]!) ** 2 / fitted[k]!));
    expectField(record, 'chi2_11_classes', fit);
    expectField(record, 'p_df9', gammaQ(9 / 2, fit / 2));
    // "3 particles: observed 525, calculated 525": Rutherford and Geiger's own line of the table
    expect([seen[3], Math.round(fitted[3]!)]).toEqual([525, 525]);
  });

  it('each interval is one increment of class running, in the order dealt', async () => {
    const increments = (await replayed.export('increments', 'polonium')).filter((line) => line['ms'] !== 0);
    expect(increments.map((line) => line['pulses'])).toEqual(dealt);
    expect(new Set(increments.map((line) => `${String(line['class'])} ${String(line['quality'])}`))).toEqual(
      new Set(['running good']),
    );
    // the counter has 16 bits and began at 60,000: it went over once
    expect(Number(increments.at(-1)!['count'])).toBe((60_000 + record.expected.particles) % 65_536);
  });

  it('the limits of the rate over every period hold the published one, and longer blocks are no more dispersed than chance allows', async () => {
    // the periods of 10 min and 1 h that were open at the end are not exported
    for (const [i, period] of ['10s', '1m', '10m', '1h'].entries()) {
      const blocks = await replayed.runningBlocks('polonium', period);
      const pulses = sum(blocks.map((block) => block.pulses));
      const exposureS = sum(blocks.map((block) => block.exposure));
      const { lower, upper } = poissonLimits(pulses, 0.9999);
      expect([lower, upper].map((limit) => Math.sign((60 * limit) / exposureS - RATE_PER_MIN))).toEqual([
        -1, 1,
      ]);
      const squares = sum(blocks.map((block) => block.pulses ** 2 / block.exposure));
      const phi = pearson(squares, pulses, exposureS, blocks.length)!;
      const above = gammaQ((blocks.length - 1) / 2, (phi * (blocks.length - 1)) / 2);
      expect(above, `φ ${phi} of ${blocks.length} blocks of ${BLOCK_LENGTHS_MS[i]} ms`).toBeGreaterThan(
        0.001,
      );
      expect(above).toBeLessThan(0.999);
    }
  });

  it('a setpoint at 80 % of the published rate is passed, one at 120 % is not; the limits of the evidence hold the rate', async () => {
    const alarms = await replayed.export('alarms', 'polonium');
    const active = alarms.filter((alarm) => alarm['active'] === true);
    expect(active.map((alarm) => alarm['kind'])).toEqual(['rate-high']);
    const evidence = JSON.parse(String(active[0]!['evidence'])) as Record<string, number>;
    expect(evidence['lower_per_min']).toBeLessThan(RATE_PER_MIN);
    expect(evidence['upper_per_min']).toBeGreaterThan(RATE_PER_MIN);
    const limits = poissonLimits(evidence['pulses']!, evidence['confidence']!, evidence['dispersion']);
    const perMin = 60_000 / evidence['exposure_ms']!;
    expect(evidence['lower_per_min']).toBeCloseTo(limits.lower * perMin, 9);
    expect(evidence['upper_per_min']).toBeCloseTo(limits.upper * perMin, 9);
  });
});
