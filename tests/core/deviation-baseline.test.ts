/** Baselines: what makes a yardstick, what keeps a period from being one, and what ends it. */
import { describe, expect, it } from 'vitest';
import {
  addExpected,
  ageYardsticks,
  learnBin,
  newBaseline,
  reviseYardstick,
  stateOf,
  yardstickOf,
} from '../../src/core/deviation/baseline.js';
import { contrastOf } from '../../src/core/deviation/contrast.js';
import { addHour, DAY_MS, DAYS_KEPT, type DaySums } from '../../src/core/deviation/day-sums.js';
import { judgeSteadiness } from '../../src/core/deviation/steadiness.js';

const HOUR_MS = 3_600_000;
const START = Date.UTC(2026, 0, 5);

/** `hours` of each of `days` days at `perHour` pulses, even as clockwork. */
function runDays(
  days: DaySums[],
  from: number,
  count: number,
  hours: number,
  perHour: (day: number) => number,
): number {
  for (let day = 0; day < count; day++) {
    for (let h = 0; h < hours; h++) {
      const pulses = perHour(day);
      const at = from + day * DAY_MS + h * HOUR_MS;
      const q = (blocks: number): number => ((pulses / blocks) ** 2 / (3600 / blocks)) * blocks;
      addHour(days, {
        ...{ bin: 'all', hour: at, pulses, ms: HOUR_MS },
        spread: { pulses, ms: HOUR_MS, q: [q(360), q(60), q(6), q(1)], k: [360, 60, 6, 1] },
      });
    }
  }
  return from + (count - 1) * DAY_MS + hours * HOUR_MS;
}

describe('baseline', () => {
  it('is learnt from 20 running hours on 7 days with 100 effective pulses, and says what it lacks until then', () => {
    const days: DaySums[] = [];
    const baseline = newBaseline(0);
    let now = runDays(days, START, 6, 3, () => 5);
    expect(learnBin(baseline, days, 'all', now)).toEqual({
      runningMs: 2 * HOUR_MS,
      days: 1,
      pulses: 10,
      unsteady: '',
    });
    now = runDays(days, START + 6 * DAY_MS, 1, 3, () => 10);
    expect(learnBin(baseline, days, 'all', now)).toBeNull();
    expect(stateOf(baseline, 'all')).toBe('learnt');
    expect(yardstickOf(baseline, 'all')).toMatchObject({
      from: START,
      to: now,
      pulses: 120,
      ms: 21 * HOUR_MS,
      days: 7,
    });
  });

  it('does not count hours of one long day for seven', () => {
    const days: DaySums[] = [];
    const now = runDays(days, START, 1, 24, () => 1000);
    expect(learnBin(newBaseline(0), days, 'all', now)).toMatchObject({ runningMs: 0, days: 6, pulses: 0 });
  });

  it('a step within the learning period makes no yardstick; it is learnt when the step is two weeks old', () => {
    const days: DaySums[] = [];
    const baseline = newBaseline(0);
    let now = runDays(days, START, 10, 6, (day) => (day < 4 ? 300 : 900));
    expect(learnBin(baseline, days, 'all', now)?.unsteady).toBe(
      'the rate rises by a factor of 3.0 within the learning period',
    );
    expect(stateOf(baseline, 'all')).toBe('learning');
    now = runDays(days, START + 10 * DAY_MS, 9, 6, () => 900);
    expect(learnBin(baseline, days, 'all', now)).toBeNull();
    expect(yardstickOf(baseline, 'all')!.pulses).toBe(900 * 6 * yardstickOf(baseline, 'all')!.days);
  });

  it('grows stale with age or when its bin is not visited, and is learnt anew', () => {
    const days: DaySums[] = [];
    const baseline = newBaseline(0);
    const now = runDays(days, START, 8, 6, () => 300);
    learnBin(baseline, days, 'all', now);
    const plan = { ageMaxMs: 400 * DAY_MS, unvisitedMaxMs: 120 * DAY_MS };
    expect(ageYardsticks(baseline, plan, now + 119 * DAY_MS)).toEqual([]);
    expect(ageYardsticks(baseline, plan, now + 121 * DAY_MS)).toEqual(['all']);
    expect([stateOf(baseline, 'all'), yardstickOf(baseline, 'all')]).toEqual(['stale', null]);
    const later = runDays(days, START + 200 * DAY_MS, 8, 6, () => 600);
    expect(learnBin(baseline, days, 'all', later)).toBeNull();
    expect(yardstickOf(baseline, 'all')).toMatchObject({ pulses: 600 * 48, from: START + 200 * DAY_MS });
  });

  it('late differences are added to the learning period that holds their hour, and to no other', () => {
    const days: DaySums[] = [];
    const baseline = newBaseline(0);
    learnBin(
      baseline,
      days,
      'all',
      runDays(days, START, 8, 6, () => 300),
    );
    reviseYardstick(baseline, 'all', START + DAY_MS, 7, 600_000);
    reviseYardstick(baseline, 'all', START - HOUR_MS, 7, 600_000);
    reviseYardstick(baseline, 'all', START + 30 * DAY_MS, 7, 600_000);
    expect(yardstickOf(baseline, 'all')).toMatchObject({ pulses: 300 * 48 + 7, ms: 48 * HOUR_MS + 600_000 });
  });

  it('keeps four weeks of days', () => {
    const days: DaySums[] = [];
    runDays(days, START, 40, 1, () => 1);
    expect(days.map(({ start }) => start)).toEqual(
      Array.from({ length: DAYS_KEPT }, (_, i) => START + (12 + i) * DAY_MS),
    );
  });
});

describe('steadiness', () => {
  const day = (i: number, pulses: number) => ({ start: START + i * DAY_MS, pulses, ms: 6 * HOUR_MS });

  it('lets pass what bursts explain', () => {
    const counts = [1000, 1150, 880, 1040, 960, 1100, 930].map((pulses, i) => day(i, pulses));
    expect(judgeSteadiness(counts, 10).reason).toBe('');
  });

  it('names scatter from day to day that bursts do not explain', () => {
    const counts = [1000, 500, 1500, 600, 1400, 450, 1550, 900].map((pulses, i) => day(i, pulses));
    expect(judgeSteadiness(counts, 2).reason).toMatch(/^the rate differs from day to day by 4\d %/);
  });
});

describe('contrast', () => {
  it('has wider limits the less the yardstick knows, and none below the truth of a sure one', () => {
    const expected = (pulses: number) => {
      const sum = { pulses: 0, variance: 0, doubt: 0 };
      addExpected(
        sum,
        {
          ...{ from: 0, to: 1, pulses, ms: pulses * 1000, days: 7, dispersion: 2, dayDispersion: 1 },
          ...{ visitedAt: 1, stale: false },
        },
        100_000,
      );
      return sum;
    };
    const sure = contrastOf(300, expected(1e9), 0.95)!;
    const unsure = contrastOf(300, expected(200), 0.95)!;
    expect(sure.ratio).toBeCloseTo(3, 9);
    // 150 effective pulses: Garwood 126.96 to 176.02 (φ = 2), over 100 expected
    expect(sure.lower).toBeCloseTo(2 * 1.2696, 2);
    expect(sure.upper).toBeCloseTo(2 * 1.7602, 2);
    expect(unsure.lower).toBeLessThan(sure.lower * 0.95);
    expect(unsure.upper).toBeGreaterThan(sure.upper * 1.05);
  });
});
