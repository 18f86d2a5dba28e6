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
import { Class, CLASS_NAMES, Flag, Reason } from '../../src/core/words.js';
import { findImbalances } from '../support/final.js';
import { runPlant, type SimulatedRun } from '../support/simulated.js';

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

const UNHEARD: readonly Reason[] = [Reason.unknownRunState, Reason.notSettled];

/** Every increment with a true time holds the pulses that the device truly counted in it. */
function checkPulses(run: SimulatedRun, faults: string[]): void {
  for (const sensor of run.plan.sensors.keys()) {
    // devices that give no serial number and are swapped may share boot and sequence: nobody can tell them apart
    const nameless = [...run.store.chains.values()].some(
      (chain) => chain.sensor === sensor && chain.device === '',
    );
    if (nameless && new Set(run.truth.sensors[sensor]!.segments.map((s) => s.device)).size > 1) continue;
    for (const row of run.store.sortedIncrements(sensor)) {
      if (row.class === Class.none || (row.flags & (Flag.noAt | Flag.rejected)) !== 0 || row.to <= row.from)
        continue;
      // without up_ms a new boot says nothing of when it began: the increment reaches back over the power cut
      if ((row.flags & Flag.fromZero) !== 0 && (row.upMs === null || nameless)) continue;
      const truth = run.query.count(sensor, row.from, row.to);
      if (truth !== row.pulses)
        faults.push(
          `${sensor} [${row.from}, ${row.to}) ${CLASS_NAMES[row.class]}: holds ${row.pulses}, true ${truth}`,
        );
    }
  }
}

/** Running increments lie in true running and hold no pulse of a start or a stop. */
function checkRunning(run: SimulatedRun, faults: string[]): void {
  for (const [sensor, { motor }] of run.plan.sensors) {
    for (const row of run.store.sortedIncrements(sensor)) {
      if (row.class !== Class.running) continue;
      const state = run.query.stateOver(motor, row.from, row.to);
      if (state?.state !== 'running' || !state.modulating)
        faults.push(`${sensor} [${row.from}, ${row.to}) is no true running`);
      const causes = run.query.countByCause(sensor, row.from, row.to);
      if (causes.start + causes.stop > 0)
        faults.push(
          `${sensor} [${row.from}, ${row.to}) holds ${causes.start + causes.stop} start or stop pulses`,
        );
    }
  }
}

/** What lies in true running, clear of every guard, is in the running class (or common, or a check). */
function checkCompleteness(run: SimulatedRun, faults: string[]): void {
  for (const [sensor, { motor, intervalMs, coupledMotors }] of run.plan.sensors) {
    // a change of modulation alone carries no time of its own: it lies anywhere since the message before
    const beat = Math.max(
      ...[motor, ...coupledMotors].map((m) => run.plan.motors.get(m)!.heartbeatMs ?? 5000),
    );
    const ahead = 8000 + beat;
    const heardLast = Math.max(
      ...[...run.store.drives.values()].filter((d) => d.motor === motor).map((d) => d.at),
    );
    const edges = [motor, ...coupledMotors].flatMap((m) => run.truth.motors[m]!.edges.map((e) => e.at));
    for (const row of run.store.sortedIncrements(sensor)) {
      // nobody spoke for the drive after it before the capture ended: unknown, rightly
      if (heardLast < row.to + 20_000 && UNHEARD.includes(row.reason)) continue;
      if (row.reason === Reason.powerUpUnknown) continue;
      if (row.to - row.from <= 0 || row.to - row.from > 3.15 * intervalMs) continue;
      const state = run.query.stateOver(motor, row.from - 16_000, row.to + ahead);
      if (state?.state !== 'running' || !state.modulating) continue;
      if (edges.some((at) => at > row.from - 16_000 && at < row.to + ahead)) continue;
      const cls = CLASS_NAMES[row.class];
      if (!['running', 'common', 'check', 'none'].includes(cls))
        faults.push(`${sensor} [${row.from}, ${row.to}) truly ran, but is ${cls}, reason ${row.reason}`);
    }
  }
}

function checkSeed(
  seed: number,
  wishes: Parameters<typeof smallPlant>[1],
  checks: ((run: SimulatedRun, faults: string[]) => void)[],
): void {
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
