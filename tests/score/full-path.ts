/**
 * A small plant over days through the full path (captures through `step`), beside the same increments fed straight into the window
 * stage: both must come to the same baselines and the same alarms. And the bias of the running rate beside that of a plain
 * count over time.
 */
import type { Scenario } from '../../simulator/scenario.js';
import { runningCells } from '../../src/core/bin-sums.js';
import { evaluateExcess } from '../../src/core/deviation/excess.js';
import { closeWatchHour, tickWatches } from '../../src/core/deviation/watch.js';
import { emptyStep, newState } from '../../src/core/new-state.js';
import type { Plan } from '../../src/core/plan.js';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import type { Increment, Spread } from '../../src/core/rows.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { emptySums, windowOf } from '../../src/core/window.js';
import { Class, PERIOD_MS } from '../../src/core/words.js';
import { runPlant, type SimulatedRun } from '../support/simulated.js';

/** `hours` long; all faults are those of the scenario. */
export function runDays(scenario: Scenario, seed: number, days: number): SimulatedRun {
  return runPlant({ scenario, seed, hours: days * 24, faults: new Set() });
}

export interface Outcome {
  alarms: string[];
  /** by sensor and bin: pulses and ms of the yardstick, to the last one */
  yardsticks: string[];
  /**
   * dispersions of the same. Hours that came late are in the sums, but not in what their dispersion is found from, so the two ways
   * differ a little here
   */
  dispersions: number[];
}

function outcomeOf(state: CoreState, journal: readonly JournalEntry[]): Outcome {
  return {
    alarms: journal
      .filter(
        ({ what, subject }) =>
          (what === 'raised' || what === 'returned') &&
          /baseline|rising|peers|silent|background/.test(subject),
      )
      .map(({ at, subject, from, to }) => `${new Date(at).toISOString()} ${subject} ${from} -> ${to}`)
      .sort(),
    yardsticks: state.sensorList.flatMap((sensor) =>
      [...sensor.watch.baseline.yardsticks].map(
        ([bin, found]) => `${sensor.key} ${bin}: ${found.pulses} in ${found.ms} ms`,
      ),
    ),
    dispersions: state.sensorList.flatMap((sensor) =>
      [...sensor.watch.baseline.yardsticks.values()].map((found) => found.dispersion),
    ),
  };
}

/** Same sums and alarms; dispersions within 5 %. */
export function agree(a: Outcome, b: Outcome): boolean {
  const isSame = JSON.stringify([a.alarms, a.yardsticks]) === JSON.stringify([b.alarms, b.yardsticks]);
  return isSame && a.dispersions.every((one, i) => Math.abs(one / b.dispersions[i]! - 1) < 0.05);
}

export function outcomeOfPath(run: SimulatedRun): Outcome {
  return outcomeOf(run.state, run.store.journal);
}

/** The motor that rises, as alarms name it. */
export const RISEN = ' pump-3.';

const LENGTHS = [1, 6, 60, 360] as const;

/** Blocks of one hour's base windows with running exposure, as the design defines them. */
function spreadOfRows(sensor: string, hour: number, rows: readonly Increment[]): Spread {
  const x = new Float64Array(360);
  const e = new Float64Array(360);
  for (const row of rows) {
    const i = (windowOf(row) - hour) / 10_000;
    x[i]! += row.pulses;
    e[i]! += row.to - row.from;
  }
  const spread: Spread = { sensor, hour, bin: 'all', pulses: 0, ms: 0, q: [0, 0, 0, 0], k: [0, 0, 0, 0] };
  for (const row of rows) {
    spread.pulses += row.pulses;
    spread.ms += row.to - row.from;
  }
  LENGTHS.forEach((length, b) => {
    for (let at = 0; at < 360; at += length) {
      let pulses = 0;
      let ms = 0;
      for (let i = at; i < at + length; i++) {
        pulses += x[i]!;
        ms += e[i]!;
      }
      if (ms === 0) continue;
      spread.q[b]! += pulses ** 2 / (ms / 1000);
      spread.k[b]! += 1;
    }
  });
  return spread;
}

function feedHour(state: CoreState, sensor: SensorState, hour: number, rows: readonly Increment[]): void {
  const running = rows.filter((row) => row.class === Class.running);
  const minutes = new Map<number, { start: number; pulses: number; ms: number; bins: [] }>();
  for (const row of running) {
    const start = Math.floor(windowOf(row) / 60_000) * 60_000;
    const minute = minutes.get(start) ?? { start, pulses: 0, ms: 0, bins: [] };
    minute.pulses += row.pulses;
    minute.ms += row.to - row.from;
    minutes.set(start, minute);
  }
  for (const minute of [...minutes.values()].sort((a, b) => a.start - b.start)) {
    sensor.minutes.push(minute);
    evaluateExcess(state, sensor);
  }
  if (running.length > 0) sensor.spreads.push(spreadOfRows(sensor.key, hour, running));
  const sums = emptySums();
  for (const row of rows) {
    sums.pulses[row.class]! += row.pulses;
    sums.ms[row.class]! += row.to - row.from;
  }
  closeWatchHour(state, sensor, hour, sums, runningCells(sums, []));
}

/** The final increments of a run, fed hour by hour into the window stage of a new state. */
export function outcomeOfFeed(run: SimulatedRun): Outcome {
  const plan: Plan = run.plan;
  const state = newState(plan);
  const byHour = new Map<string, Increment[]>();
  let first = Infinity;
  let last = 0;
  for (const key of plan.sensors.keys()) {
    for (const row of run.store.sortedIncrements(key)) {
      if (row.class === Class.none || row.class === Class.pending) continue;
      const hour = Math.floor(windowOf(row) / PERIOD_MS['1h']) * PERIOD_MS['1h'];
      const name = `${key} ${hour}`;
      byHour.set(name, [...(byHour.get(name) ?? []), row]);
      first = Math.min(first, hour);
      last = Math.max(last, hour);
    }
  }
  const journal: JournalEntry[] = [];
  for (let hour = first; hour < last; hour += PERIOD_MS['1h']) {
    emptyStep(state);
    for (const sensor of state.sensorList)
      feedHour(state, sensor, hour, byHour.get(`${sensor.key} ${hour}`) ?? []);
    state.now = hour + PERIOD_MS['1h'];
    while (state.unread.size > 0) tickWatches(state);
    state.now += 60_000;
    tickWatches(state);
    journal.push(...state.out.journal);
  }
  return outcomeOf(state, journal);
}

export interface BiasRow {
  sensor: string;
  /** own discharges per minute of true running, clear of starts and stops */
  truePerMin: number;
  runningPerMin: number;
  plainPerMin: number;
  runningBias: number;
  plainBias: number;
}

/** The running rate and a plain count over time, each against the true rate of own discharges while running. */
export function scoreBias(run: SimulatedRun): BiasRow[] {
  const rows: BiasRow[] = [];
  for (const [sensor, { motor }] of run.plan.sensors) {
    const increments = run.store.sortedIncrements(sensor).filter((row) => row.class !== Class.none);
    const sums = { own: 0, ownMs: 0, running: 0, runningMs: 0, plain: 0, plainMs: 0 };
    for (const row of increments) {
      sums.plain += row.pulses;
      sums.plainMs += row.to - row.from;
      if (row.class === Class.running) {
        sums.running += row.pulses;
        sums.runningMs += row.to - row.from;
      }
      if (run.query.stateOver(motor, row.from, row.to)?.state !== 'running') continue;
      sums.own += run.query.countByCause(sensor, row.from, row.to).own;
      sums.ownMs += row.to - row.from;
    }
    const truePerMin = (sums.own / sums.ownMs) * 60_000;
    const runningPerMin = (sums.running / sums.runningMs) * 60_000;
    const plainPerMin = (sums.plain / sums.plainMs) * 60_000;
    rows.push({
      ...{ sensor, truePerMin, runningPerMin, plainPerMin },
      ...{ runningBias: runningPerMin / truePerMin - 1, plainBias: plainPerMin / truePerMin - 1 },
    });
  }
  return rows;
}

/** What a plant came to, both ways. */
export interface PathResult {
  plant: string;
  agrees: boolean;
  /** transitions of deviation alarms, on the full path */
  transitions: number;
  /** of motors that nothing happened to */
  falseAlarms: number;
  /** the one that rose was found */
  found: boolean;
  bias: BiasRow[];
}

/** Runs a plant whose third motor rises by three a day and a half before the end. */
export function scorePath(
  name: string,
  plant: (riseDay: number) => Scenario,
  seed: number,
  days: number,
): PathResult {
  const run = runDays(plant(days - 1.5), seed, days);
  const path = outcomeOfPath(run);
  const raised = path.alarms.filter((line) => line.endsWith('normal -> unacknowledged'));
  return {
    plant: name,
    agrees: agree(path, outcomeOfFeed(run)),
    transitions: path.alarms.length,
    falseAlarms: raised.filter((line) => !line.includes(RISEN)).length,
    found: raised.some((line) => line.includes(RISEN)),
    bias: scoreBias(run),
  };
}
