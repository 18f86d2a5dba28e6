/**
 * Hundreds of simulated plants that know the truth. For every seed the ledger balances: each segment's own first and last
 * count and wraps against the sum of its increments. Where clocks are right, every increment is held against the pulses
 * that the plant knows to have happened in it, and every one that is called running lies in true running.
 *
 * The bound that indivisible increments imply: an increment that touches a guard (2 s before and 5 s after an edge to
 * running, 2 s before and 10 s after one to standing, each with 1 s of clock error) is out of the running class as a whole;
 * all others in true running are in it, to the pulse and to the millisecond.
 */
import { describe, expect, it } from 'vitest';
import { type FaultName, FAULTS, smallPlant } from '../../simulator/small-plants.js';
import { findImbalances } from '../support/final.js';
import { runPlant } from '../support/simulated.js';
import { checkCompleteness, checkPulses, checkRunning, type Check } from '../support/truth-checks.js';

const SEEDS = Number(process.env['TALLYPOST_SEEDS'] ?? 300);
const GROUPS = 10;

/** Faults after which device time is still true time. */
const TIMELY: readonly FaultName[] = FAULTS.filter(
  (fault) =>
    ![
      'clock-steps',
      'clock-drift',
      'no-at',
      'garbage',
      'torn',
      'polled-drives',
      'silent-starts',
      'drive-outages',
      'network-outages',
    ].includes(fault),
);

function checkSeed(seed: number, wishes: Parameters<typeof smallPlant>[1], checks: readonly Check[]): void {
  const plant = smallPlant(seed, wishes);
  const run = runPlant(plant);
  const faults = findImbalances(run.store);
  for (const check of checks) check(run, faults);
  expect({ seed, faults: faults.slice(0, 5), plant: faults.length === 0 ? [] : [...plant.faults] }).toEqual({
    seed,
    faults: [],
    plant: [],
  });
}

describe('against the truth of the plant', () => {
  const each = Array.from({ length: GROUPS }, (_, group) => group);
  it.each(each)(`the ledger balances whatever goes wrong (group %i of ${GROUPS})`, (group) => {
    for (let seed = group; seed < SEEDS / 2; seed += GROUPS) checkSeed(seed, { share: 0.25 }, []);
  });
  it.each(each)(
    `pulses and exposure are true to the pulse where clocks are right (group %i of ${GROUPS})`,
    (group) => {
      for (let seed = SEEDS / 2 + group; seed < SEEDS; seed += GROUPS) {
        checkSeed(seed, { allowed: TIMELY, share: 0.25 }, [checkPulses, checkRunning, checkCompleteness]);
      }
    },
  );
});
