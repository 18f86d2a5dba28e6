/**
 * Convergence and balance for rough plants: drives with heartbeats, polled drives, absent reporters, coupled drives,
 * mixed intervals, common bursts, swaps, reboots, wraps and outages. Each seed has its own mixture.
 */
import { describe, expect, it } from 'vitest';
import { Class } from '../../src/core/words.js';
import { describeFinal, findImbalances } from '../support/final.js';
import { makeRoughPlant } from '../support/rough-plant.js';
import { disturb, runRough } from '../support/rough-run.js';
import { disordersOf, wishesOf } from '../support/rough-wishes.js';

/** More seeds, or others: ROUGH_SEEDS and ROUGH_FIRST. */
const SEEDS = Number(process.env['ROUGH_SEEDS'] ?? 10);
const FIRST = Number(process.env['ROUGH_FIRST'] ?? 1);

describe('a rough plant comes out the same', () => {
  for (let seed = FIRST; seed < FIRST + SEEDS; seed++) {
    it(`in any disorder (seed ${seed})`, { timeout: 120_000 }, () => {
      const plant = makeRoughPlant(seed, wishesOf(seed));
      const punctual = runRough(plant, disturb(plant, seed, {}), {});
      expect(findImbalances(punctual)).toEqual([]);
      const expected = describeFinal(punctual);
      for (const disorder of disordersOf(seed)) {
        const disturbed = runRough(plant, disturb(plant, seed, disorder), disorder);
        expect(findImbalances(disturbed)).toEqual([]);
        expect(describeFinal(disturbed)).toEqual(expected);
      }
    });
  }
});

describe('a rough plant against its truth', () => {
  for (const seed of [3, 4, 5]) {
    it(`pulses of readings that lie in one state (seed ${seed})`, { timeout: 120_000 }, () => {
      const plant = makeRoughPlant(seed, wishesOf(seed));
      const store = runRough(plant, disturb(plant, seed, {}), {});
      for (const truth of plant.truth) {
        const rows = store
          .sortedIncrements(truth.sensor)
          .filter((row) => row.to > truth.from && row.to <= truth.to && row.class !== Class.none);
        if (rows.some((row) => row.from < truth.from || row.class === Class.unattributed)) continue;
        const pulses = rows.reduce((sum, row) => sum + row.pulses, 0);
        if (rows.length > 0)
          expect([truth.sensor, truth.to, pulses]).toEqual([truth.sensor, truth.to, truth.pulses]);
      }
    });
  }
});
