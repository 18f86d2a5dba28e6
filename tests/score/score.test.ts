/** The score in miniature, so that it never rots: what it finds at this size is coarse, and the bounds are those of its size. */
import { describe, expect, it } from 'vitest';
import { agree, outcomeOfFeed, outcomeOfPath, runSmallPlant, scoreBias } from './full-path.js';
import { scoreHealthy } from './healthy.js';
import { scoreCoverage, scoreRemedy } from './limits.js';
import { scoreOdd } from './odd.js';
import { judge, writeReport } from './report.js';
import { scoreRise } from './rises.js';
import { budgetPerMonth, RISES, runScore, SMALL } from './run.js';

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
    const run = runSmallPlant(2, 10, 8.5);
    const path = outcomeOfPath(run);
    const fed = outcomeOfFeed(run);
    expect([path.alarms, path.yardsticks]).toEqual([fed.alarms, fed.yardsticks]);
    expect(agree(path, fed)).toBe(true);
    expect(path.yardsticks).toHaveLength(3);
    expect(
      path.alarms.some((line) => line.includes('pump-3.de') && line.endsWith('normal -> unacknowledged')),
    ).toBe(true);
    expect(path.alarms.some((line) => line.includes('pump-1') || line.includes('pump-2'))).toBe(false);
    for (const { runningBias, plainBias } of scoreBias(run)) {
      expect(Math.abs(runningBias)).toBeLessThan(0.01);
      expect(Math.abs(plainBias)).toBeGreaterThan(0.2);
    }
  });

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
      { ...tiny, pathDays: 2 },
      () => {},
      () => 0,
    );
    expect(judge(score)).toHaveLength(11);
    expect(writeReport(score)).toContain('| target |');
  });
});
