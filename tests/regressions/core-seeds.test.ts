/**
 * Seeds of rough plants that once came out differently, each with what was wrong. The disorder is the one that showed it.
 */
import { describe, expect, it } from 'vitest';
import { describeFinal, findImbalances } from '../support/final.js';
import { makeRoughPlant } from '../support/rough-plant.js';
import { disturb, runRough, type Disorder } from '../support/rough-run.js';
import { wishesOf } from '../support/rough-wishes.js';

const ONCE_WRONG: [seed: number, what: string, disorder: Disorder][] = [
  [
    2,
    'late readings that arrived one by one were taken for a clock that is behind',
    { delayMs: 5_400_000, late: 'reading' },
  ],
  [
    14,
    'a reading found torn while it waited for the sweep was given a class',
    { outage: [75, 110], restarts: true, batch: 700 },
  ],
  [33, 'windows swept between a look at the past and its answer kept a stale prediction', { batch: 13 }],
];

describe('a seed that failed once', () => {
  for (const [seed, what, disorder] of ONCE_WRONG) {
    it(`${seed}: ${what}`, { timeout: 20_000 }, () => {
      const plant = makeRoughPlant(seed, wishesOf(seed));
      const punctual = runRough(plant, disturb(plant, seed, {}), {});
      const disturbed = runRough(plant, disturb(plant, seed, disorder), disorder);
      expect(findImbalances(disturbed)).toEqual([]);
      expect(describeFinal(disturbed)).toEqual(describeFinal(punctual));
    });
  }
});
