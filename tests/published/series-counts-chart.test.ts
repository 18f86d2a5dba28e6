/**
 * Counts charts of textbooks through the gateway: centre line, control limits and the points outside as published, from its export.
 *
 * Time: an inspection unit (a wafer, a board, a sample) becomes 10 min. The gateway draws no chart with limits of three standard
 * deviations; the tests work them out from its sums, and ask whether its own exact limits call out the same points.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { dispersionOfBlocks } from '../../src/stats/dispersion.js';
import { gammaQ } from '../../src/stats/gamma.js';
import { normalUpperTail } from '../../src/stats/normal.js';
import { rateLimits } from '../../src/stats/poisson.js';
import { expectField, takeRecord, title } from './published.js';
import { ReplayedCounts } from './replayed-counts.js';

const UNIT_MS = 600_000;

type Limits = Record<'center' | 'ucl' | 'lcl', number> & { signals: number[] };
const wafers = takeRecord<{ x: number[]; sigmas: number }, Limits>('F01-nist-c-chart');
type Revised = Limits & Record<'revised_center' | 'revised_ucl' | 'revised_lcl', number>;
const boards = takeRecord<{ x: number[]; sigmas: number; drop: number[] }, Revised>(
  'F02-montgomery-circuit-c-chart',
);
type Test = Record<'ratio' | 'statistic' | 'df' | 'p', number>;
const samples = takeRecord<{ x: number[] }, Test>('C07-overdispersion-wetherill-brown');

let replayed: ReplayedCounts;
beforeAll(async () => {
  const each = { intervalMs: UNIT_MS, firstReading: 65_300 };
  replayed = await ReplayedCounts.replay(
    { motor: 'wafers', counts: wafers.inputs.x, ...each },
    { motor: 'boards', counts: boards.inputs.x, ...each },
    { motor: 'samples', counts: samples.inputs.x, ...each },
  );
});
afterAll(() => replayed.remove());

async function readUnits(motor: string): Promise<number[]> {
  const blocks = await replayed.runningBlocks(motor, '10m');
  expect(blocks.every(({ exposure }) => exposure * 1000 === UNIT_MS)).toBe(true);
  return blocks.map(({ pulses }) => pulses);
}

/** Chart of counts c: mean ± `sigmas` √mean; signals count from 1. */
function drawChart(x: readonly number[], sigmas: number): Limits {
  const center = x.reduce((a, b) => a + b, 0) / x.length;
  const [lcl, ucl] = [center - sigmas * Math.sqrt(center), center + sigmas * Math.sqrt(center)];
  return { center, lcl, ucl, signals: findOutside(x, (v) => v < lcl || v > ucl) };
}

function findOutside(x: readonly number[], isOutside: (count: number) => boolean): number[] {
  return x.flatMap((v, i) => (isOutside(v) ? [i + 1] : []));
}

/** Units whose exact limits, at the confidence that ± `sigmas` have for a normal variable, leave out the centre. */
function findUnlike(x: readonly number[], center: number, sigmas: number): number[] {
  const options = { confidence: 1 - 2 * normalUpperTail(sigmas), dispersion: 1, deadTimeS: 0 };
  const centerPerMin = center / (UNIT_MS / 60_000);
  return findOutside(x, (v) => {
    const { lowerPerMin, upperPerMin } = rateLimits(v, UNIT_MS, options)!;
    return centerPerMin < lowerPerMin || centerPerMin > upperPerMin;
  });
}

describe('through the gateway', () => {
  it(title(wafers), async () => {
    const x = await readUnits('wafers');
    const { sigmas } = wafers.inputs;
    const chart = drawChart(x, sigmas);
    expectField(wafers, 'center', chart.center);
    expectField(wafers, 'ucl', chart.ucl);
    expectField(wafers, 'lcl', chart.lcl);
    expectField(wafers, 'signals', chart.signals);
    expect(findUnlike(x, chart.center, sigmas)).toEqual(wafers.expected.signals);
  });

  // the limits were recalled from the book and worked out again; data and the two points outside were seen
  it(title(boards), async () => {
    const x = await readUnits('boards');
    const { sigmas, drop } = boards.inputs;
    const chart = drawChart(x, sigmas);
    expectField(boards, 'center', chart.center);
    expectField(boards, 'ucl', chart.ucl);
    expectField(boards, 'lcl', chart.lcl);
    expectField(boards, 'signals', chart.signals);
    expect(findUnlike(x, chart.center, sigmas)).toEqual(boards.expected.signals);
    const kept = x.filter((_, i) => !drop.includes(i + 1));
    const revised = drawChart(kept, sigmas);
    expectField(boards, 'revised_center', revised.center);
    expectField(boards, 'revised_ucl', revised.ucl);
    expectField(boards, 'revised_lcl', revised.lcl);
  });

  it(title(samples), async () => {
    const x = await readUnits('samples');
    const df = x.length - 1;
    const ratio = dispersionOfBlocks(
      x,
      x.map(() => UNIT_MS / 1000),
    )!;
    expectField(samples, 'ratio', ratio);
    expectField(samples, 'statistic', ratio * df);
    expectField(samples, 'df', df);
    expectField(samples, 'p', gammaQ(df / 2, (ratio * df) / 2));
  });
});
