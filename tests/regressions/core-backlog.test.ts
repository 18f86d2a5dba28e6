/**
 * A gateway that was away for hours is given everything at once and is restarted while it still sorts: the rows given
 * at start no longer reach back to what waits to be swept, nor to the hour that is open.
 */
import { expect, it } from 'vitest';
import { describeFinal, findImbalances } from '../support/final.js';
import { makeRoughPlant } from '../support/rough-plant.js';
import { disturb, runRough, type Disorder } from '../support/rough-run.js';
import { wishesOf } from '../support/rough-wishes.js';

for (const seed of [1, 4]) {
  it(`a backlog of hours survives restarts (seed ${seed})`, () => {
    const plant = makeRoughPlant(seed, { ...wishesOf(seed), motors: 3, bursts: 0, minutes: 280 });
    const disorder: Disorder = { outage: [20, 270], batch: 500, restarts: true };
    const punctual = runRough(plant, disturb(plant, seed, {}), {});
    const late = runRough(plant, disturb(plant, seed, disorder), disorder);
    expect(findImbalances(late)).toEqual([]);
    expect(describeFinal(late)).toEqual(describeFinal(punctual));
  });
}
