/**
 * The gate: one class for each increment, decided from its own flags and the run state, in the order of precedence.
 * Common bursts need the neighbours and are decided in common.ts, between `transient` and `running`.
 * Source: our choice; the order of the classes is the ledger's.
 */
import { overlapsCheck, type CheckSpan } from './check-span.js';
import type { GatePlan, SensorPlan } from './plan.js';
import type { Increment } from './rows.js';
import { findStretch, type Steady, type Timeline } from './run-state.js';
import { overlapsGuard } from './transient.js';
import { Class, clockErrorOf, Flag, Reason, type Verdict } from './words.js';

/** One object per outcome, by class and reason: the gate judges hundreds of thousands a second. */
const VERDICTS = Object.values(Class).map((cls) =>
  Object.values(Reason).map((reason): Verdict => ({ class: cls, reason })),
);

/** What the increment itself says against the class of the time it lies in. */
const OWN_FLAGS = Flag.rejected | Flag.touchesCheck | Flag.stepped | Flag.fromZero | Flag.clockOff;

/** Classes and reasons are numbered from 0 in the order of their words. */
function verdict(cls: Class, reason: Reason): Verdict {
  return VERDICTS[cls]![reason]!;
}

export interface Surroundings {
  own: Timeline;
  /** timelines of the drives that this sensor is declared to hear */
  coupled: readonly Timeline[];
  /** function checks of the sensor that people started */
  checks: readonly CheckSpan[];
}

function judgeItself(
  plan: SensorPlan,
  gate: GatePlan,
  { checks }: Surroundings,
  row: Increment,
): Verdict | null {
  if ((row.flags & Flag.rejected) !== 0) return verdict(Class.rejected, Reason.implausibleRate);
  if ((row.flags & Flag.touchesCheck) !== 0 || overlapsCheck(checks, row))
    return verdict(Class.check, Reason.none);
  if (row.to < row.from || (row.flags & Flag.stepped) !== 0)
    return verdict(Class.unattributed, Reason.clockStep);
  if (row.to === row.from) return verdict(Class.unattributed, Reason.noLength);
  if (row.to - row.from > gate.maxIntervalFactor * plan.intervalMs)
    return verdict(Class.unattributed, Reason.tooLong);
  if ((row.flags & Flag.fromZero) !== 0 && row.upMs === null)
    return verdict(Class.unattributed, Reason.powerUpUnknown);
  return null;
}

function hearsCoupled(
  gate: GatePlan,
  plan: SensorPlan,
  coupled: readonly Timeline[],
  row: Increment,
): boolean {
  const reach = gate.coupledMs + plan.clockErrorMs;
  for (const timeline of coupled) {
    for (const { lo, hi } of timeline.switchings) {
      if (lo - reach < row.to && hi + reach > row.from) return true;
    }
  }
  return false;
}

/**
 * The class of an increment as if no other motor existed. `running`, `background` and the last `unattributed` may still
 * turn out to be `common`.
 */
export function classify(plan: SensorPlan, gate: GatePlan, around: Surroundings, row: Increment): Verdict {
  const { steady } = around.own;
  const ms = row.to - row.from;
  const isPlain =
    (row.flags & OWN_FLAGS) === 0 &&
    ms > 0 &&
    ms <= gate.maxIntervalFactor * plan.intervalMs &&
    !overlapsCheck(around.checks, row);
  if (!isPlain || around.coupled.length > 0) return classifyAnew(plan, gate, around, row);
  if (steady !== null && row.from >= steady.from && row.to <= steady.to) return steady.verdict;
  const found = classifyAnew(plan, gate, around, row);
  if (found.class === Class.running || found.class === Class.background)
    around.own.steady = findSteady(around.own, row, found);
  return found;
}

/** The time around a plain increment in which no edge and no guard lies. */
function findSteady({ stretches, guards }: Timeline, row: Increment, verdict: Verdict): Steady | null {
  const stretch = stretches[findStretch(stretches, row.from)]!;
  if (row.to > stretch.to) return null;
  let { from, to } = stretch;
  for (const guard of guards) {
    if (guard.to <= row.from) from = Math.max(from, guard.to);
    else to = Math.min(to, guard.from);
  }
  return { from, to, verdict };
}

function classifyAnew(plan: SensorPlan, gate: GatePlan, around: Surroundings, row: Increment): Verdict {
  const itself = judgeItself(plan, gate, around, row);
  if (itself !== null) return itself;
  const { stretches, guards } = around.own;
  const first = findStretch(stretches, row.from);
  let ramping = false;
  for (let i = first; i < stretches.length && stretches[i]!.from < row.to; i++) {
    const { state } = stretches[i]!;
    if (state === 'unknown') return verdict(Class.unattributed, Reason.unknownRunState);
    if (state === 'starting' || state === 'stopping') ramping = true;
  }
  if ((row.flags & Flag.clockOff) !== 0) {
    const near = Math.max(plan.intervalMs, clockErrorOf(row.flags));
    if (overlapsGuard(guards, row.from - near, row.to + near))
      return verdict(Class.unattributed, Reason.clockOff);
  }
  if (ramping || overlapsGuard(guards, row.from, row.to)) return verdict(Class.transient, Reason.none);
  if (around.coupled.length > 0 && hearsCoupled(gate, plan, around.coupled, row)) {
    return verdict(Class.transient, Reason.coupledDrive);
  }
  return classifySteady(around.own, first, row);
}

function classifySteady(own: Timeline, first: number, row: Increment): Verdict {
  const { state, modulating } = own.stretches[first]!;
  const running = state === 'running';
  for (let i = first + 1; i < own.stretches.length && own.stretches[i]!.from < row.to; i++) {
    const next = own.stretches[i]!;
    if ((next.state === 'running') !== running || next.modulating !== modulating) {
      return verdict(Class.unattributed, Reason.straddlesEdge);
    }
  }
  if (running)
    return modulating
      ? verdict(Class.running, Reason.none)
      : verdict(Class.unattributed, Reason.runningWithoutModulation);
  return modulating
    ? verdict(Class.unattributed, Reason.modulatingWhileStopped)
    : verdict(Class.background, Reason.none);
}

/** Whether a common burst may still claim it. */
export function mayBeCommon(found: Verdict): boolean {
  return (
    found.class === Class.running ||
    found.class === Class.background ||
    (found.class === Class.unattributed &&
      found.reason >= Reason.modulatingWhileStopped &&
      found.reason !== Reason.powerUpUnknown)
  );
}
