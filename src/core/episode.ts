/**
 * Transients as records: one for each merged guard, with the whole transient increments that each sensor counted in it.
 * However many sensors hear it, a start is one event. Issued when all its sensors have been swept past it, and again
 * whenever what it rests on changes.
 */
import type { Answer } from './needs.js';
import type { Increment, Transient } from './rows.js';
import { buildTimeline } from './run-state.js';
import { askFor, type CoreState, type MotorState, type SensorState } from './state.js';
import type { Guard } from './transient.js';
import { Class } from './words.js';

const CONTEXT_MS = 3_600_000;

function hearing(motor: MotorState): SensorState[] {
  return [...motor.sensors, ...motor.hearers];
}

/** Everything before this has been swept by all sensors that hear the motor. */
function sweptBy(state: CoreState, motor: MotorState): number {
  let swept = state.now - motor.sweepDelayMs;
  for (const sensor of motor.sensors) swept = Math.min(swept, sensor.sweptTo);
  for (const sensor of motor.hearers) swept = Math.min(swept, sensor.sweptTo);
  return swept - motor.tailMs;
}

/** Issues the guards that ended, and looks again at those that changed. */
export function issueTransients(state: CoreState, motor: MotorState): void {
  const { guards } = motor.timeline;
  const last = guards[guards.length - 1];
  if (motor.transientDirty === null && (last === undefined || last.to <= motor.issuedTo)) {
    state.mayIssue[motor.index] = 0;
    return;
  }
  const swept = sweptBy(state, motor);
  let from = Infinity;
  let to = -Infinity;
  for (const guard of guards) {
    if (guard.to <= motor.issuedTo || guard.to > swept) continue;
    from = Math.min(from, guard.from);
    to = Math.max(to, guard.to);
  }
  const dirty = motor.transientDirty;
  if (dirty !== null && state.now >= dirty.dueAt && hearing(motor).every((s) => s.dirty === null)) {
    from = Math.min(from, dirty.from);
    to = Math.max(to, Math.min(dirty.to, swept));
    motor.transientDirty = null;
    state.touchedMotors.add(motor);
  }
  if (to <= from) return;
  motor.issuedTo = Math.max(motor.issuedTo, swept);
  state.touchedMotors.add(motor);
  gather(state, motor, from, to);
}

function gather(state: CoreState, motor: MotorState, from: number, to: number): void {
  const question = {
    drives: { motors: [motor.key], from: from - CONTEXT_MS, to: to + CONTEXT_MS },
    transients: { motor: motor.key, from, to },
  };
  askFor(state, question, (answer) => {
    const earliest = Math.min(from, ...answer.transients.map((t) => t.from));
    if (earliest < from - CONTEXT_MS / 2) {
      gather(state, motor, earliest, to);
      return;
    }
    const guards = guardsOf(state, motor, answer, from);
    const swept = sweptBy(state, motor);
    const due = guards.filter((g) => g.to <= swept && g.from < to && g.to > from);
    const first = due[0];
    if (first !== undefined && first.from < from - CONTEXT_MS / 2) {
      gather(state, motor, first.from, to);
      return;
    }
    const records = due.map((g) => ({
      motor: motor.key,
      from: g.from,
      to: g.to,
      edges: g.edges,
      kind: g.kind,
      counts: [],
    }));
    countNext(state, motor, records, answer.transients, hearing(motor));
  });
}

function guardsOf(state: CoreState, motor: MotorState, answer: Answer, from: number): Guard[] {
  if (motor.knownFrom <= from - CONTEXT_MS) return motor.timeline.guards;
  return buildTimeline(
    motor.plan,
    state.plan.gate,
    state.plan.common.speedStep,
    answer.drives,
    answer.presences,
  ).guards;
}

/** Asks one sensor after another for its increments, adds them up, and puts the records out at the end. */
function countNext(
  state: CoreState,
  motor: MotorState,
  records: Transient[],
  before: readonly Transient[],
  left: readonly SensorState[],
): void {
  const [sensor, ...rest] = left;
  if (sensor === undefined || records.length === 0) {
    putTransients(state, records, before);
    return;
  }
  const from = records[0]!.from;
  const to = records[records.length - 1]!.to;
  const range = { sensor: sensor.key, fromTo: from + 1, toTo: Math.ceil(to + motor.tailMs) + 1 };
  askFor(state, { increments: range }, (answer) => {
    for (const record of records) addCounts(record, sensor.key, answer.increments);
    countNext(state, motor, records, before, rest);
  });
}

function addCounts(record: Transient, key: string, rows: readonly Increment[]): void {
  let pulses = 0;
  let ms = 0;
  for (const row of rows) {
    if (row.class !== Class.transient || row.from >= record.to || row.to <= record.from) continue;
    pulses += row.pulses;
    ms += row.to - row.from;
  }
  if (ms > 0 || pulses > 0) record.counts.push({ sensor: key, pulses, ms });
}

function isSame(a: Transient, b: Transient): boolean {
  return (
    a.to === b.to &&
    a.edges === b.edges &&
    a.kind === b.kind &&
    a.counts.length === b.counts.length &&
    a.counts.every((count) =>
      b.counts.some((c) => c.sensor === count.sensor && c.pulses === count.pulses && c.ms === count.ms),
    )
  );
}

function putTransients(state: CoreState, records: readonly Transient[], before: readonly Transient[]): void {
  for (const old of before) {
    if (!records.some((record) => record.from === old.from))
      state.out.removedTransients.push({ motor: old.motor, from: old.from });
  }
  for (const record of records) {
    const old = before.find((t) => t.from === record.from);
    if (old === undefined || !isSame(old, record)) state.out.transients.push(record);
  }
}
