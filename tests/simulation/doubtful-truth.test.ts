/**
 * Plants whose messages leave something open, against their truth: outages of networks and reporters, clocks that drift
 * and step, readings without a time, polled drives, drives that never say that they are starting, torn counts. For each
 * kind the room that the doubt leaves is stated; outside it everything is true to the pulse.
 *
 * What cannot be judged at all, and why:
 * - devices without serial numbers that are swapped: two of them may send the same boot and sequence, and by contract the
 *   first that claims a place stands (only that the ledger balances is checked, in truth.test.ts);
 * - a clock that goes back on a device that sends no sequence: its readings are indistinguishable from late ones;
 * - pulses of a reading without time and without run time that waited in an outage: it carries its arrival only;
 * - jogs of a polled drive that fall between two polls: nobody saw them (measured in polled-leak.test.ts).
 */
import { describe, expect, it } from 'vitest';
import { type FaultName, smallPlant } from '../../simulator/small-plants.js';
import { findImbalances } from '../support/final.js';
import { runPlant, type SimulatedRun } from '../support/simulated.js';
import {
  checkCompleteness,
  checkPulses,
  checkRunning,
  type Check,
  type Doubt,
} from '../support/truth-checks.js';

const SEEDS = Number(process.env['DOUBTFUL_SEEDS'] ?? 12);
const FIRST = Number(process.env['DOUBTFUL_FIRST'] ?? 5000);
const ALL: readonly Check[] = [checkPulses, checkRunning, checkCompleteness];
const MINUTE_MS = 60_000;

interface Kind {
  readonly what: string;
  readonly needed: readonly FaultName[];
  readonly allowed: readonly FaultName[];
  readonly checks: readonly Check[];
  readonly doubt?: (run: SimulatedRun) => Doubt;
}

/** Faults that leave nothing open where clocks are right. */
const PLAIN: readonly FaultName[] = [
  'drops',
  'duplicates',
  'reboots',
  'checks',
  'site-bursts',
  'crosstalk',
  'trips',
  'narrow-counters',
  'dead-time',
];

/**
 * Two edges of one outage: the message after it names the second alone, and until the will speaks (or three heartbeats
 * are missed) the gateway rightly takes the state before for granted.
 */
function outagesWithEdges(run: SimulatedRun, atLeast: number): Doubt {
  return {
    unsaid: (motor) => {
      const { edges, faults } = run.truth.motors[motor]!;
      return faults
        .filter((fault) => fault.kind.endsWith('outage') && fault.to !== null)
        .map((fault) => ({ from: fault.at - 1000, to: fault.to! + 2000 }))
        .filter(({ from, to }) => edges.filter((e) => e.at >= from && e.at <= to).length >= atLeast);
    },
  };
}

/** A stepped clock shows true time before the step and another by a known difference after it. */
function steppedBy(run: SimulatedRun): Doubt {
  const stepsOf = (sensor: string): number[] =>
    run.truth.sensors[sensor]!.faults.filter((f) => f.kind === 'clock-step').map((f) =>
      parseInt(f.detail!, 10),
    );
  return { shiftsMs: (sensor) => [0, ...stepsOf(sensor)] };
}

const KINDS: readonly Kind[] = [
  {
    what: 'outages of network and reporter: true to the pulse, but for outages that hide two edges',
    needed: ['network-outages', 'drive-outages'],
    allowed: [...PLAIN, 'outages', 'silences', 'reordering'],
    checks: [checkPulses, checkRunning],
    doubt: (run) => outagesWithEdges(run, 2),
  },
  {
    what: 'outages of network and reporter: all that ran counts as running, but for outages with an edge',
    needed: ['network-outages', 'drive-outages'],
    allowed: ['outages', 'silences', 'reboots', 'crosstalk'],
    checks: [checkCompleteness],
    doubt: (run) => outagesWithEdges(run, 1),
  },
  {
    what: 'clocks that drift by up to a second: true but for the pulses of that second at both ends',
    needed: ['clock-drift'],
    allowed: [...PLAIN, 'reordering', 'outages'],
    checks: ALL,
    doubt: () => ({ errorMs: 40e-6 * 4 * 60 * MINUTE_MS }),
  },
  {
    what: 'clocks that step: true to the pulse in the time before or after the step',
    needed: ['clock-steps'],
    allowed: ['drops', 'duplicates', 'checks', 'trips', 'narrow-counters'],
    checks: [checkPulses, checkRunning],
    doubt: steppedBy,
  },
  {
    what: 'readings without a time: true but for four seconds on the way',
    needed: ['no-at'],
    allowed: ['checks', 'trips', 'narrow-counters', 'no-boot', 'no-seq', 'no-up-ms', 'drops'],
    checks: [checkPulses, checkRunning],
    doubt: () => ({ delayMs: 4000 }),
  },
  {
    what: 'polled drives: no start or stop in the running class',
    needed: ['polled-drives'],
    allowed: [...PLAIN, 'outages'],
    checks: ALL,
  },
  {
    what: 'drives that never say that they are starting: their ramp keeps starts and stops out',
    needed: ['silent-starts'],
    allowed: [...PLAIN, 'outages'],
    checks: ALL,
  },
  {
    what: 'torn counts and garbage: set aside, or rejected; all else is true to the pulse',
    needed: ['torn', 'garbage'],
    allowed: [...PLAIN, 'reordering', 'outages'],
    checks: ALL,
    doubt: () => ({ mayJump: true }),
  },
];

describe.each(KINDS)('$what', ({ needed, allowed, checks, doubt }) => {
  for (let seed = FIRST; seed < FIRST + SEEDS; seed++) {
    it(`seed ${seed}`, { timeout: 120_000 }, () => {
      const plant = smallPlant(seed, { needed, allowed, share: 0.3 });
      const run = runPlant(plant);
      const faults = findImbalances(run.store);
      for (const check of checks) check(run, faults, doubt?.(run));
      expect({ faults: faults.slice(0, 5), plant: faults.length === 0 ? [] : [...plant.faults] }).toEqual({
        faults: [],
        plant: [],
      });
    });
  }
});
