/**
 * What a simulated run is held against: the truth of its plant. Each check adds a sentence for whatever is not as it must
 * be; `Doubt` says what the messages cannot tell, and how much room that leaves.
 */
import type { Increment } from '../../src/core/rows.js';
import { Class, CLASS_NAMES, Flag, Reason } from '../../src/core/words.js';
import type { SimulatedRun } from './simulated.js';

export interface Doubt {
  /** true time is one of these earlier than the device's; absent: [0] */
  readonly shiftsMs?: (sensor: string) => readonly number[];
  /** true time may be earlier than that by up to this, ms; absent: 0 */
  readonly delayMs?: number;
  /** true time may differ either way by up to this, ms; absent: 0 */
  readonly errorMs?: number;
  /** stretches of a motor of which the messages do not say all; absent: none */
  readonly unsaid?: (motor: string) => readonly { from: number; to: number }[];
  /** two torn counts in a row look like a jump that stands: then the class is `rejected`, rightly */
  readonly mayJump?: boolean;
}

export type Check = (run: SimulatedRun, faults: string[], doubt?: Doubt) => void;

const UNHEARD: readonly Reason[] = [Reason.unknownRunState, Reason.notSettled];

function shiftsOf(doubt: Doubt, sensor: string): readonly number[] {
  return doubt.shiftsMs?.(sensor) ?? [0];
}

function isUnsaid(doubt: Doubt, motors: readonly string[], from: number, to: number): boolean {
  return motors.some((motor) => doubt.unsaid?.(motor).some((s) => s.from < to && s.to > from) ?? false);
}

/** Devices that give no serial number and are swapped may share boot and sequence: nobody can tell them apart. */
export function isNamelessSwap(run: SimulatedRun, sensor: string): boolean {
  const nameless = [...run.store.chains.values()].some((c) => c.sensor === sensor && c.device === '');
  return nameless && new Set(run.truth.sensors[sensor]!.segments.map((s) => s.device)).size > 1;
}

/** Whether an increment's pulses can be those of the device in its interval, give or take what is in doubt. */
function holdsTruth(run: SimulatedRun, doubt: Doubt, row: Increment): boolean {
  const { delayMs = 0, errorMs = 0 } = doubt;
  const shifts = shiftsOf(doubt, row.sensor);
  for (const before of shifts) {
    for (const after of shifts) {
      const from = row.from - before;
      const to = row.to - after;
      if (to < from) continue;
      const most = run.query.count(row.sensor, from - delayMs - errorMs, to + errorMs);
      const inner = to - delayMs - errorMs;
      const least = inner > from + errorMs ? run.query.count(row.sensor, from + errorMs, inner) : 0;
      if (row.pulses >= least && row.pulses <= most) return true;
    }
  }
  return false;
}

/** Every increment holds the pulses that the device truly counted in it. `delayMs` makes times of arrival judgeable. */
export const checkPulses: Check = (run, faults, doubt = {}) => {
  const skipped = Flag.rejected | (doubt.delayMs === undefined ? Flag.noAt : 0);
  for (const sensor of run.plan.sensors.keys()) {
    if (isNamelessSwap(run, sensor)) continue;
    const nameless = [...run.store.chains.values()].some((c) => c.sensor === sensor && c.device === '');
    for (const row of run.store.sortedIncrements(sensor)) {
      if (row.class === Class.none || (row.flags & skipped) !== 0 || row.to <= row.from) continue;
      // without up_ms a new boot says nothing of when it began: the increment reaches back over the power cut
      if ((row.flags & Flag.fromZero) !== 0 && (row.upMs === null || nameless)) continue;
      if (!holdsTruth(run, doubt, row))
        faults.push(
          `${sensor} [${row.from}, ${row.to}) ${CLASS_NAMES[row.class]}: holds ${row.pulses}, true ${run.query.count(sensor, row.from, row.to)}`,
        );
    }
  }
};

/** Running increments lie in true running and hold no pulse of a start or a stop. */
export const checkRunning: Check = (run, faults, doubt = {}) => {
  const { delayMs = 0, errorMs = 0 } = doubt;
  for (const [sensor, { motor }] of run.plan.sensors) {
    for (const row of run.store.sortedIncrements(sensor)) {
      if (row.class !== Class.running || isUnsaid(doubt, [motor], row.from, row.to)) continue;
      // a drive that says nothing of its ramp had not yet said that it stopped when the run ended
      if (row.to > run.truth.to - run.plan.motors.get(motor)!.rampMs) continue;
      const isTrue = shiftsOf(doubt, sensor).some((shift) => {
        const from = row.from - shift - delayMs - errorMs;
        const to = Math.min(row.to - shift + errorMs, run.truth.to);
        const state = run.query.stateOver(motor, from, to);
        const causes = run.query.countByCause(sensor, from, to);
        return state?.state === 'running' && state.modulating && causes.start + causes.stop === 0;
      });
      if (!isTrue) faults.push(`${sensor} [${row.from}, ${row.to}) is no true running`);
    }
  }
};

/** What lies in true running, clear of every guard, is in the running class (or common, or a check). */
export const checkCompleteness: Check = (run, faults, doubt = {}) => {
  for (const [sensor, { motor, intervalMs, coupledMotors }] of run.plan.sensors) {
    const motors = [motor, ...coupledMotors];
    // a change of modulation alone carries no time of its own: it lies anywhere since the message before
    const beat = Math.max(...motors.map((m) => run.plan.motors.get(m)!.heartbeatMs ?? 60_000));
    const ramp = Math.max(...motors.map((m) => run.plan.motors.get(m)!.rampMs));
    const [behind, ahead] = [16_000 + ramp, 8000 + beat + ramp];
    const heardLast = Math.max(
      ...[...run.store.drives.values()].filter((d) => d.motor === motor).map((d) => d.at),
    );
    const edges = motors.flatMap((m) => run.truth.motors[m]!.edges.map((e) => e.at));
    for (const row of run.store.sortedIncrements(sensor)) {
      // nobody spoke for the drive after it before the capture ended: unknown, rightly
      if (heardLast < row.to + 20_000 && UNHEARD.includes(row.reason)) continue;
      if (row.reason === Reason.powerUpUnknown) continue;
      if (doubt.mayJump === true && row.class === Class.rejected) continue;
      if (row.to - row.from <= 0 || row.to - row.from > 3.15 * intervalMs) continue;
      if (isUnsaid(doubt, motors, row.from - behind, row.to + ahead)) continue;
      const state = run.query.stateOver(motor, row.from - behind, row.to + ahead);
      if (state?.state !== 'running' || !state.modulating) continue;
      if (edges.some((at) => at > row.from - behind && at < row.to + ahead)) continue;
      const cls = CLASS_NAMES[row.class];
      if (!['running', 'common', 'check', 'none'].includes(cls))
        faults.push(`${sensor} [${row.from}, ${row.to}) truly ran, but is ${cls}, reason ${row.reason}`);
    }
  }
};
