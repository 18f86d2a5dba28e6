/**
 * Polled drives do not say since when they are in a state: an edge lies anywhere between two polls, and what starts and
 * stops between two polls is never seen. How many of the start and stop pulses end up in the running class is measured
 * here; the figure stands in docs/measurements.md.
 */
import { expect, it } from 'vitest';
import { smallPlant } from '../../simulator/small-plants.js';
import { Class } from '../../src/core/words.js';
import { runPlant } from '../support/simulated.js';

const PLANTS = 24;

function measureLeak(needed: ('polled-drives' | 'jogs')[]): { leaked: number; total: number } {
  let leaked = 0;
  let total = 0;
  for (let seed = 1000; seed < 1000 + PLANTS; seed++) {
    const run = runPlant(smallPlant(seed, { allowed: [], needed, hours: 2 }));
    for (const sensor of run.plan.sensors.keys()) {
      for (const row of run.store.sortedIncrements(sensor)) {
        if (row.class === Class.none) continue;
        const causes = run.query.countByCause(sensor, row.from, row.to);
        total += causes.start + causes.stop;
        if (row.class === Class.running) leaked += causes.start + causes.stop;
      }
    }
  }
  return { leaked, total };
}

it('polled drives leak next to nothing, jogged ones a little', () => {
  const plain = measureLeak(['polled-drives']);
  const jogged = measureLeak(['polled-drives', 'jogs']);
  console.log(
    `start and stop pulses in the running class: polled ${plain.leaked} of ${plain.total}, polled and jogged ${jogged.leaked} of ${jogged.total}`,
  );
  expect(plain.total).toBeGreaterThan(500);
  expect(plain.leaked / plain.total).toBeLessThan(0.01);
  expect(jogged.leaked / jogged.total).toBeLessThan(0.05);
});
