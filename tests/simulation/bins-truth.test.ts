/**
 * Condition bins of a simulated plant against what its drives said: a motor that was clear of the edge for an hour is in the bin of
 * its side, and the bins of a period add up to its running class. What happens on the edge itself is in tests/core/bins.test.ts.
 */
import { expect, it } from 'vitest';
import { resolveScenario } from '../../simulator/scenario.js';
import type { DutyGroupPlan } from '../../src/core/plan.js';
import type { Increment } from '../../src/core/rows.js';
import { Class } from '../../src/core/words.js';
import { runPlant, type SimulatedRun } from '../support/simulated.js';

const EDGE = 1300;
const HALF = 10;
const HOUR_MS = 3_600_000;
const GROUP: DutyGroupPlan = {
  key: 'pumps',
  axes: [{ axis: 'speed', edges: [EDGE], deadband: 2 * HALF, learn: 0, learnSince: null }],
};
const UPPER = `speed ${EDGE}..`;
const LOWER = `speed ..${EDGE}`;

/** Speeds of 1,480 x 0.9 rpm and about: in steps, walking about the edge, and by the time of day. */
function run(seed: number): SimulatedRun {
  const motor = (profile: 'steps' | 'walk' | 'daily', swing: number) => ({
    dutyGroup: 'pumps',
    speed: { profile, swing, stepMinutes: 40 },
    positions: { de: null },
    eachPosition: { device: { outages: { perDay: 6, minutes: 8 }, reboots: { perDay: 4 } } },
  });
  const scenario = resolveScenario({
    site: 'tarn-hollow',
    motors: { 'pump-1': motor('steps', 0.1), 'pump-2': motor('walk', 0.03), 'pump-3': motor('daily', 0.1) },
  });
  return runPlant({ scenario, seed, hours: 20, faults: new Set() }, [GROUP]);
}

const sumOf = (rows: readonly Increment[]): [number, number] => [
  rows.reduce((sum, row) => sum + row.pulses, 0),
  rows.reduce((sum, row) => sum + row.to - row.from, 0),
];

it.each([1, 2])('bins are those that the drives told, and add up to the running class (seed %i)', (seed) => {
  const { plan, store } = run(seed);
  const seen = new Set<string>();
  for (const [key, { motor }] of plan.sensors) {
    const rows = store.sortedIncrements(key).filter((row) => row.class === Class.running);
    const told = [...store.drives.values()].filter((row) => row.motor === motor && row.speedRpm !== null);
    for (const row of rows) {
      seen.add(row.bin);
      const near = told.filter(({ at }) => at > row.from - HOUR_MS && at < row.to);
      const rpm = near.map(({ speedRpm }) => speedRpm!);
      if (rpm.length === 0) continue;
      if (Math.min(...rpm) > EDGE + HALF) expect(row.bin).toBe(UPPER);
      if (Math.max(...rpm) < EDGE - HALF) expect(row.bin).toBe(LOWER);
    }
    for (const period of ['1m', '10m', '1h'] as const) {
      const own = [...store.rollups.values()].filter((sum) => sum.sensor === key && sum.period === period);
      for (const bin of [UPPER, LOWER, 'mixed']) {
        const sums = own.flatMap(({ bins }) => bins.filter((sum) => sum.bin === bin));
        const total = [
          sums.reduce((all, { pulses }) => all + pulses, 0),
          sums.reduce((all, { ms }) => all + ms, 0),
        ];
        expect([period, bin, ...total]).toEqual([
          period,
          bin,
          ...sumOf(rows.filter((row) => row.bin === bin)),
        ]);
      }
      for (const { bins, ms, pulses } of own) {
        expect(bins.reduce((all, sum) => all + sum.ms, 0)).toBe(ms[Class.running]);
        expect(bins.reduce((all, sum) => all + sum.pulses, 0)).toBe(pulses[Class.running]);
      }
    }
  }
  expect([...seen].sort()).toEqual(['mixed', LOWER, UPPER].sort());
});
