/**
 * What the plant knows about itself: the oracle of every test of the gateway. Pulses are those that a device counted;
 * times are true ones, whatever the clocks in the field showed.
 */
import type { Interval } from './happenings.js';
import type { Fault, SegmentTruth } from './messages.js';
import { isRunning, type MotorLife } from './motor.js';
import type { Passage } from './network.js';
import type { CauseName, PulseTrain } from './pulses.js';

/** Per true minute from the first whole one on; arrays of equal length. */
export interface MinuteTruth {
  readonly from: number;
  readonly runningPulses: number[];
  readonly runningMs: number[];
}

export interface SensorTruth {
  readonly minutes: MinuteTruth;
  readonly counted: number;
  readonly runningPulses: number;
  readonly runningMs: number;
  /** counted pulses by what made them, while the motor truly ran and otherwise */
  readonly byCause: Record<CauseName, number>;
  readonly lostToDeadTime: number;
  readonly lostToPower: number;
  readonly segments: readonly SegmentTruth[];
  readonly passage: Omit<Passage, 'faults'>;
  readonly faults: readonly Fault[];
}

/** A start, a stop or a trip, as it really was. */
export interface TransientTruth {
  readonly kind: 'start' | 'stop' | 'trip' | 'modulation';
  readonly from: number;
  readonly to: number;
}

export interface MotorTruth {
  readonly runningMs: number;
  readonly edges: readonly { readonly at: number; readonly state: string; readonly modulating: boolean }[];
  readonly transients: readonly TransientTruth[];
  readonly faults: readonly Fault[];
}

export interface Truth {
  readonly site: string;
  readonly seed: number;
  readonly from: number;
  readonly to: number;
  readonly motors: Record<string, MotorTruth>;
  readonly sensors: Record<string, SensorTruth>;
  readonly siteBursts: readonly Fault[];
}

/** Questions about true time. Sensors are `<motor>/<position>`; an unknown one throws. */
export interface TruthQuery {
  /** counted pulses in [from, to); `runningOnly`: those while the motor truly ran, checks apart */
  readonly count: (
    sensor: string,
    from: number,
    to: number,
    options?: { readonly runningOnly?: boolean },
  ) => number;
  readonly countByCause: (sensor: string, from: number, to: number) => Record<CauseName, number>;
  /** milliseconds of true running with modulation in [from, to) */
  readonly runningMs: (motor: string, from: number, to: number) => number;
  /** true state throughout [from, to): null when it changes within */
  readonly stateOver: (
    motor: string,
    from: number,
    to: number,
  ) => { state: string; modulating: boolean } | null;
}

/** What the truth about one sensor is made of. */
export interface SensorRecord {
  readonly motor: string;
  readonly train: PulseTrain;
  readonly segments: readonly SegmentTruth[];
  readonly passage: Passage;
  readonly faults: readonly Fault[];
}

const MINUTE_MS = 60_000;

export function findRunning(life: MotorLife): Interval[] {
  return life.phases.filter(isRunning).map(({ from, to }) => ({ from, to }));
}

export function tellSensor(record: SensorRecord, life: MotorLife, span: Interval): SensorTruth {
  const { train, passage } = record;
  const running = findRunning(life);
  const { faults: passageFaults, ...tally } = passage;
  return {
    minutes: tellMinutes(train, running, span),
    counted: train.count(span.from, span.to),
    runningPulses: train.countRunning(span.from, span.to),
    runningMs: measureOverlap(running, span.from, span.to),
    byCause: train.countByCause(span.from, span.to),
    lostToDeadTime: train.lostToDeadTime,
    lostToPower: train.lostToPower,
    segments: record.segments,
    passage: tally,
    faults: [...record.faults, ...passageFaults].sort((a, b) => a.at - b.at),
  };
}

function tellMinutes(train: PulseTrain, running: readonly Interval[], span: Interval): MinuteTruth {
  const from = Math.floor(span.from / MINUTE_MS) * MINUTE_MS;
  const minutes: MinuteTruth = { from, runningPulses: [], runningMs: [] };
  for (let at = from; at < span.to; at += MINUTE_MS) {
    const begin = Math.max(at, span.from);
    const end = Math.min(at + MINUTE_MS, span.to);
    minutes.runningPulses.push(train.countRunning(begin, end));
    minutes.runningMs.push(measureOverlap(running, begin, end));
  }
  return minutes;
}

/** Milliseconds of [from, to) that lie in ascending, separate intervals. */
export function measureOverlap(intervals: readonly Interval[], from: number, to: number): number {
  let low = 0;
  let high = intervals.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (intervals[middle]!.to <= from) low = middle + 1;
    else high = middle;
  }
  let ms = 0;
  for (let i = low; i < intervals.length && intervals[i]!.from < to; i++) {
    ms += Math.max(0, Math.min(to, intervals[i]!.to) - Math.max(from, intervals[i]!.from));
  }
  return ms;
}

export function tellMotor(life: MotorLife, faults: readonly Fault[], span: Interval): MotorTruth {
  const edges = life.phases.map(({ from, state, modulating }) => ({ at: from, state, modulating }));
  return {
    runningMs: measureOverlap(findRunning(life), span.from, span.to),
    edges,
    transients: findTransients(life, span),
    faults: [...faults].sort((a, b) => a.at - b.at),
  };
}

function findTransients(life: MotorLife, span: Interval): TransientTruth[] {
  const transients: TransientTruth[] = [];
  life.phases.forEach((phase, i) => {
    const before = life.phases[i - 1];
    if (before === undefined || phase.from < span.from) return;
    if (phase.state === 'starting') transients.push({ kind: 'start', from: phase.from, to: phase.to });
    else if (phase.state === 'stopping') transients.push({ kind: 'stop', from: phase.from, to: phase.to });
    else if (phase.state === before.state)
      transients.push({ kind: 'modulation', from: phase.from, to: phase.from });
    else if (before.state === 'running') transients.push({ kind: 'trip', from: phase.from, to: phase.from });
  });
  return transients;
}

/** Opens the questions on a plant's records. */
export function openTruthQuery(
  records: ReadonlyMap<string, SensorRecord>,
  lives: ReadonlyMap<string, MotorLife>,
): TruthQuery {
  const running = new Map([...lives].map(([motor, life]) => [motor, findRunning(life)]));
  const trainOf = (sensor: string): PulseTrain => take(records, sensor, 'sensor').train;
  return {
    count: (sensor, from, to, options) =>
      options?.runningOnly === true
        ? trainOf(sensor).countRunning(from, to)
        : trainOf(sensor).count(from, to),
    countByCause: (sensor, from, to) => trainOf(sensor).countByCause(from, to),
    runningMs: (motor, from, to) => measureOverlap(take(running, motor, 'motor'), from, to),
    stateOver: (motor, from, to) => {
      const phase = take(lives, motor, 'motor').phases.find((each) => each.from <= from && each.to > from);
      if (phase === undefined || phase.to < to) return null;
      return { state: phase.state, modulating: phase.modulating };
    },
  };
}

function take<T>(from: ReadonlyMap<string, T>, key: string, what: string): T {
  const value = from.get(key);
  if (value === undefined)
    throw new Error(`no ${what} "${key}" in this plant; it has ${[...from.keys()].join(', ')}`);
  return value;
}
