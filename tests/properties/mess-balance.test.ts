/** Whatever comes, the ledger balances, no increment stays without a class, and rollups are sums of increments. */
import { describe, expect, it } from 'vitest';
import { findImbalances } from '../support/final.js';
import { seeded } from '../support/little-plant.js';
import { findUnsummed, runMess, spoil } from '../support/mess.js';
import { makePlan } from '../support/plans.js';
import { makeRoughPlant } from '../support/rough-plant.js';
import { disturb } from '../support/rough-run.js';
import { wishesOf } from '../support/rough-wishes.js';

/** More seeds, or others: ROUGH_SEEDS and ROUGH_FIRST. */
const SEEDS = Number(process.env['ROUGH_SEEDS'] ?? 8);
const FIRST = Number(process.env['ROUGH_FIRST'] ?? 1);

describe('the ledger balances', () => {
  for (let seed = FIRST; seed < FIRST + SEEDS; seed++) {
    const plant = makeRoughPlant(seed, { ...wishesOf(seed), motors: 3 });
    const facts = disturb(plant, seed, { delayMs: 3_600_000, duplicates: true }).filter(
      (f) => f.kind !== 'tick',
    );
    const until = plant.end + 5 * 3_600_000;
    it(`in a mess (seed ${seed})`, { timeout: 20_000 }, () => {
      const plan = makePlan(plant.motors, plant.sensors);
      const store = runMess(plan, spoil(facts, seeded(seed * 31)), seed, until);
      expect(findImbalances(store)).toEqual([]);
      expect(findUnsummed(store)).toEqual([]);
    });
    it(`with a horizon that many readings miss (seed ${seed})`, { timeout: 20_000 }, () => {
      const plan = makePlan(plant.motors, plant.sensors, { reviseHorizonMs: 900_000 });
      const store = runMess(plan, facts, seed, until);
      expect(findImbalances(store)).toEqual([]);
      expect(findUnsummed(store)).toEqual([]);
    });
  }
});
