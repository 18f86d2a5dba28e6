/** A counter of 16 bits whose segment was cut twice before its wraps were counted anew lost one of them. */
import { expect, it } from 'vitest';
import { findImbalances } from '../support/final.js';
import { seeded } from '../support/little-plant.js';
import { findUnsummed, runMess, spoil } from '../support/mess.js';
import { makePlan } from '../support/plans.js';
import { makeRoughPlant } from '../support/rough-plant.js';
import { disturb } from '../support/rough-run.js';
import { wishesOf } from '../support/rough-wishes.js';

for (const seed of [2, 4, 58, 59, 85, 103, 116, 136, 171, 290, 354]) {
  it(`no wrap is lost where a segment is cut again (seed ${seed})`, () => {
    const plant = makeRoughPlant(seed, {
      ...wishesOf(seed),
      motors: 2,
      bits: 16,
      minutes: 60,
      bursts: 0,
      rate: 150,
      intervalsMs: [5000],
      presence: false,
    });
    const facts = disturb(plant, seed, { delayMs: 3_600_000 }).filter((fact) => fact.kind !== 'tick');
    const plan = makePlan(plant.motors, plant.sensors);
    const store = runMess(plan, spoil(facts, seeded(seed * 31)), seed, plant.end + 5 * 3_600_000);
    expect(findImbalances(store)).toEqual([]);
    expect(findUnsummed(store)).toEqual([]);
  });
}
