/** The score in miniature, so that it never rots: what it finds at this size is coarse, and the bounds are those of its size. */
import { describe, expect, it } from 'vitest';
import { outcomeOfFeed, outcomeOfPath, RISEN, runDays, scoreBias, type BiasRow } from './full-path.js';
import { scoreHealthy } from './healthy.js';
import { scoreCoverage, scoreRemedy } from './limits.js';
import { scoreOdd } from './odd.js';
import { calmPlant, troubledPlant } from './plants.js';
import { judge, writeReport } from './report.js';
import { scoreRise } from './rises.js';
import { budgetPerMonth, RISES, runScore, SMALL } from './run.js';

/** Motors whose running rate is off by more than 1 %, or whose plain count over time is not off by 20 %. */
function judgeBias(rows: readonly BiasRow[]): BiasRow[] {
  return rows.filter((row) => Math.abs(row.runningBias) > 0.01 || Math.abs(row.plainBias) < 0.2);
}

describe('score', () => {
  it('a rise by three is found within the hour, and one by a half within days', () => {
    const [fast, , slow] = RISES;
    const found = scoreRise(3, { ...fast!, cases: 8 }, budgetPerMonth(60));
    expect(found.found).toBe(8);
    expect(found.medianMinutes).toBeLessThan(60);
    expect(scoreRise(3, { ...slow!, cases: 6 }, budgetPerMonth(60)).found).toBeGreaterThanOrEqual(5);
  });

  it('a healthy fleet learns its baselines and stays silent', () => {
    const found = scoreHealthy(5, { fleets: 1, motors: 12, days: 16, budgetPerMonth: budgetPerMonth(12) });
    expect(found.learnt).toBeGreaterThanOrEqual(11);
    expect(found.alarms).toEqual({});
  });

  it('the odd one out is ranked first, two in a group of eight are both found, none by chance', () => {
    const found = scoreOdd(7, 2);
    expect(found).toMatchObject({ fleets: 2, rankedFirst: 2, falseCalls: 0 });
    expect(found.bothFound).toBe(2);
  });

  it('limits hold what they promise', () => {
    const rows = scoreCoverage(9, 40);
    const cases = rows.reduce((sum, row) => sum + row.cases, 0);
    const covered = rows.reduce((sum, row) => sum + row.covered, 0);
    expect(covered / cases).toBeGreaterThan(0.92);
    expect(scoreRemedy(9, 30).covered).toBeGreaterThanOrEqual(26);
  });

  it('the full path and the window stage come to the same baselines and alarms; only the running rate is unbiased', () => {
    const run = runDays(calmPlant(8.5), 2, 10);
    const path = outcomeOfPath(run);
    const fed = outcomeOfFeed(run);
    expect([path.alarms, path.yardsticks]).toEqual([fed.alarms, fed.yardsticks]);
    expect(path.yardsticks).toHaveLength(3);
    const raised = path.alarms.filter((line) => line.endsWith('normal -> unacknowledged'));
    expect(raised.some((line) => line.includes(RISEN))).toBe(true);
    expect(raised.filter((line) => !line.includes(RISEN))).toEqual([]);
    expect(judgeBias(scoreBias(run))).toEqual([]);
  });

  it(
    'so they do with cross-talk, bursts over the zone, outages, reboots and wrong clocks',
    { timeout: 120_000 },
    () => {
      const run = runDays(troubledPlant(7.5), 2, 9);
      const path = outcomeOfPath(run);
      const fed = outcomeOfFeed(run);
      expect([path.alarms, path.yardsticks]).toEqual([fed.alarms, fed.yardsticks]);
      expect(path.yardsticks).toHaveLength(6);
      expect(judgeBias(scoreBias(run))).toEqual([]);
    },
  );

  it('the report names each target and whether it is met', () => {
    const tiny = {
      ...SMALL,
      motors: 6,
      days: 1,
      riseCases: 1,
      oddFleets: 1,
      coverageCases: 1,
      remedyCases: 1,
    };
    const score = runScore(
      1,
      { ...tiny, pathDays: 2, troubledPlants: 0 },
      () => {},
      () => 0,
    );
    expect(judge(score)).toHaveLength(10);
    expect(writeReport(score)).toContain('| target |');
  });
});
