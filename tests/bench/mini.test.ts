/** The benches in miniature, so that they never rot: same code, little work, and the results must still be right. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { measureCompare } from './compare.js';
import { measureCore } from './core.js';
import { formatHover, measureHover } from './hover.js';
import { compileLoad } from './load.js';
import { measureLiveMemory } from './memory.js';
import { countAt } from './proof.js';
import { MISSING_RECEIVERS } from '../receivers/receiver-hall.js';
import { formatReaders, measureReaders } from './page-readers.js';
import { formatSinks, measureSinks } from './sinks.js';
import { formatPostgres, measurePostgres } from './postgres.js';
import { measureReplay } from './replay.js';
import { findPostgres, WITHOUT_POSTGRES } from '../support/postgres-cluster.js';
import { runScenario } from './rounds.js';
import { findScenario } from './scenarios.js';
import { median } from './spread.js';
import { formatScenario } from './table.js';

const START_AT = Date.UTC(2026, 0, 5);

let folder = '';
let program = '';

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-mini-'));
  program = compileLoad(folder);
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('figures over rounds', () => {
  it('the median of an even number of rounds lies between the middle two', () => {
    expect(median([4, 1, 3, 10])).toBe(3.5);
    expect(median([5, 1, 9])).toBe(5);
  });

  it('the count that belongs to a reading follows from its seq', () => {
    let count = 0;
    for (let seq = 0; seq < 50; seq++) {
      count += 1 + (seq % 3);
      expect(countAt(seq)).toBe(count);
    }
  });
});

describe('core', () => {
  it('gives the same result for every size of batch', () => {
    const fleet = { sensors: 6, intervalMs: 10_000, startAt: START_AT, durationMs: 3 * 3_600_000 };
    const large = measureCore(fleet, 1, 500);
    const small = measureCore(fleet, 1, 7);
    expect(large.readings).toBe(6 * 1080);
    expect(large.perSecond.median).toBeGreaterThan(0);
    expect(small.hash).toBe(large.hash);
  });
});

describe('a rate that hovers at its setpoint', () => {
  it('raises fifty times less than a plain comparison, five times less than a fixed one, and a step is found', () => {
    const fixed = { ratePerMin: 300, burstS: 60, days: 3, seeds: 1 };
    const result = measureHover({ shape: 'switching', dispersion: 20, ...fixed });
    const { plain, fixed: delayed, averaged, product } = result.perDay;
    expect(plain).toBeGreaterThan(50 * Math.max(product, 1));
    expect(delayed).toBeGreaterThan(5 * Math.max(product, 1));
    expect(averaged).toBeGreaterThan(product);
    expect(result.delayMin.product[2]).toBeLessThan(60);
    expect(formatHover([result])).toContain('switching, dispersion 20, to 3 times');
  });
});

describe('comparisons', () => {
  it('give the same answers every time, within the time of a breath', () => {
    const wishes = { motors: 4, bins: 2, hours: 200, rounds: 3 };
    const first = measureCompare({ ...wishes, folder: join(folder, 'compare-1') });
    const again = measureCompare({ ...wishes, folder: join(folder, 'compare-2') });
    expect(again.hash).toBe(first.hash);
    // a fortieth of a year's hours and half its group: a year of it stays below 50 ms only if this is far below
    expect(first.cpuMs.sisters).toBeLessThan(25);
  });
});

describe('rollups into PostgreSQL', () => {
  it('are the same by all three ways', async () => {
    const bin = findPostgres();
    if (bin === null) return console.warn(WITHOUT_POSTGRES);
    const result = await measurePostgres({ bin, rounds: 1, rows: 5_000 });
    expect(result.hash).toMatch(/\/5000$/);
    expect(result.ratio.copy.median).toBeGreaterThan(0);
    expect(formatPostgres(result)).toContain('sink against it');
  });
});

describe('gateway as a process', () => {
  const wishes = () => ({
    folder,
    program,
    targets: ['bare', 'gateway'] as const,
    rounds: 1,
    seconds: 1,
    warmupSeconds: 0,
    hashed: 20,
    messages: 60,
    tell: () => undefined,
  });

  it('stores once every reading that it acknowledged, at window 20 and at window 1', async () => {
    for (const name of ['50x20', 'latency-50']) {
      const result = await runScenario(findScenario(name), wishes());
      const gateway = result.targets.find(({ target }) => target === 'gateway');
      expect(gateway?.stored).toBe(50 * 60);
      // sensor, seq, count and pulses of the first 20 readings of 50 sensors, as sent
      expect(gateway?.hash).toBe('b8fb348e2e4eb4e3/20');
      expect(formatScenario(result)).toContain('against bare');
    }
  });

  it('stores a backlog of readings 10 s apart', async () => {
    const result = await runScenario(findScenario('backlog'), wishes());
    expect(result.targets.find(({ target }) => target === 'gateway')?.stored).toBe(50 * 60);
  });

  it('holds a small fleet in memory', async () => {
    const live = await measureLiveMemory(join(folder, 'memory'), program, {
      sensors: 20,
      intervalMs: 1_000,
      seconds: 2,
    });
    expect(live.samples.length).toBeGreaterThan(0);
    expect(live.highest).toBeLessThan(250e6);
  });

  it('serves browsers beside it, from a store with days of rollups', async () => {
    const result = await measureReaders({
      ...{
        folder: join(folder, 'readers'),
        program,
        browsers: 2,
        sensors: 2,
        days: 3,
        rounds: 1,
        // a window of 10 s closes meanwhile: what the stream tells of for certain
        seconds: 11,
      },
      ...{ connections: 10, perSecond: 50, tell: () => undefined },
    });
    expect(result.rows).toBe(2 * 3 * (1440 + 144 + 24));
    expect(result.answers).toBeGreaterThan(2);
    expect(result.events).toBeGreaterThan(0);
    expect(result.ratio).toBeGreaterThan(0);
    expect(formatReaders(result)).toContain('ratio of the p99');
  });

  it('replays two hours of a fleet, and says what they take on disk', async () => {
    const fleet = { sensors: 10, intervalMs: 10_000, startAt: START_AT, durationMs: 2 * 3_600_000 };
    const done = await measureReplay(join(folder, 'replay'), fleet, 50);
    expect(done.readings).toBe(7200);
    expect(done.bytesPerReading).toBeLessThan(400);
  });

  it.runIf(MISSING_RECEIVERS === null)(
    'forwards to four receivers beside it, while the fifth is dead',
    async () => {
      const [without, sinks] = await measureSinks({
        ...{ folder: join(folder, 'sinks'), program, arms: ['without', 'sinks'], rounds: 1, seconds: 3 },
        ...{ connections: 20, perSecond: 200, tell: () => undefined },
      });
      expect(without!.ratio).toBeNull();
      expect(sinks!.ratio).toBeGreaterThan(0);
      const { http, ...others } = sinks!.taken;
      expect(http).toBe(0);
      for (const [name, taken] of Object.entries(others)) expect(taken, name).toBeGreaterThan(50);
      expect(formatSinks([without!, sinks!])).toContain('ratio of the p99');
    },
  );
});
