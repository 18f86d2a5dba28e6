/**
 * What a motor really does over the whole run: its phases, its speed, its load, how warm it is. This is the truth that
 * its drive may or may not report.
 */
import { drawTimes, type Interval } from './happenings.js';
import { openStream, type Random } from './random.js';
import type { DutyScenario, MotorScenario } from './scenario.js';

export type RunState = 'stopped' | 'starting' | 'running' | 'stopping' | 'fault';

export interface Phase {
  readonly from: number;
  readonly to: number;
  readonly state: RunState;
  readonly modulating: boolean;
}

/** Conditions are constant over cells of `cellMs` from `from` on. */
export interface MotorLife {
  readonly scenario: MotorScenario;
  /** ascending, without gaps; the first begins before the run, the last ends with it */
  readonly phases: readonly Phase[];
  readonly from: number;
  readonly cellMs: number;
  readonly speedRpm: Float64Array;
  readonly loadPct: Float64Array;
  readonly temperatureC: Float64Array;
}

const MINUTE_MS = 60_000;
const CELL_MS = 30_000;

export function isRunning(phase: Phase): boolean {
  return phase.state === 'running' && phase.modulating;
}

/** Lives through the span. Same seed, same life. */
export function liveMotor(scenario: MotorScenario, seed: number, span: Interval): MotorLife {
  const random = openStream(seed, scenario.name, 'duty');
  let phases = buildPhases(scenario.duty, random, span);
  phases = addJogs(phases, scenario.duty, openStream(seed, scenario.name, 'jogs'), span);
  phases = switchModulation(
    phases,
    'running',
    scenario.duty.bypass,
    openStream(seed, scenario.name, 'bypass'),
    span,
  );
  phases = switchModulation(
    phases,
    'stopped',
    scenario.duty.preheat,
    openStream(seed, scenario.name, 'preheat'),
    span,
  );
  phases = joinEqual(phases);
  const conditions = openStream(seed, scenario.name, 'conditions');
  const speedRpm = drawSpeed(scenario, conditions, span);
  return {
    scenario,
    phases,
    from: span.from,
    cellMs: CELL_MS,
    speedRpm,
    loadPct: drawLoad(scenario, conditions, speedRpm),
    temperatureC: warmUp(scenario, phases, span),
  };
}

/** Number of the condition cell that holds a time within the run. */
export function cellAt(life: MotorLife, at: number): number {
  const cell = Math.floor((at - life.from) / life.cellMs);
  return Math.min(life.speedRpm.length - 1, Math.max(0, cell));
}

function countCells(span: Interval): number {
  return Math.max(1, Math.ceil((span.to - span.from) / CELL_MS));
}

function buildPhases(duty: DutyScenario, random: Random, span: Interval): Phase[] {
  const phases: Phase[] = [];
  const add = (from: number, to: number, state: RunState): number => {
    const end = Math.min(Math.round(to), span.to);
    if (end > from)
      phases.push({ from, to: end, state, modulating: state !== 'stopped' && state !== 'fault' });
    return Math.max(from, end);
  };
  const runs = duty.kind === 'listed' ? listRuns(duty, span) : drawRuns(duty, random, span);
  let at = span.from - Math.round(random.between(1, 60) * MINUTE_MS);
  for (const run of runs) {
    const isUnderWay = run.from <= at;
    if (!isUnderWay) {
      at = add(at, run.from, at > span.from && random.chance(duty.tripShare) ? 'fault' : 'stopped');
      at = add(at, at + duty.startingSeconds * 1_000 * random.between(0.8, 1.2), 'starting');
    }
    at = add(at, Math.max(run.to, at + 1_000), 'running');
    if (at >= span.to) break;
    if (random.chance(duty.tripShare)) at = add(at, at + random.between(5, 60) * 1_000, 'fault');
    else at = add(at, at + duty.stoppingSeconds * 1_000 * random.between(0.8, 1.2), 'stopping');
  }
  add(at, span.to, 'stopped');
  return phases;
}

function listRuns(duty: DutyScenario, span: Interval): Interval[] {
  return duty.runs
    .map(([from, to]) => ({ from: span.from + from * MINUTE_MS, to: span.from + to * MINUTE_MS }))
    .map(({ from, to }) => ({ from: from <= span.from ? -Infinity : Math.round(from), to: Math.round(to) }))
    .sort((a, b) => a.from - b.from);
}

function drawRuns(duty: DutyScenario, random: Random, span: Interval): Interval[] {
  if (duty.kind === 'standstill') return [];
  const draw = (meanMinutes: number): number => {
    const shortest = Math.min(duty.shortestMinutes, meanMinutes);
    return Math.round((shortest + random.exponential(meanMinutes - shortest)) * MINUTE_MS);
  };
  if (duty.kind === 'continuous') return [{ from: -Infinity, to: span.to }];
  const runShare = duty.runMinutes / (duty.runMinutes + duty.stopMinutes);
  const begins = duty.begins === 'random' ? random.chance(runShare) : duty.begins === 'running';
  const runs: Interval[] = [];
  let at = span.from;
  if (begins) {
    at += draw(duty.runMinutes);
    runs.push({ from: -Infinity, to: at });
  }
  while (at < span.to) {
    const from = at + draw(duty.stopMinutes);
    at = from + draw(duty.runMinutes);
    runs.push({ from, to: at });
  }
  return runs;
}

/** A jogged motor: short starts in quick succession while it stands. */
function addJogs(phases: readonly Phase[], duty: DutyScenario, random: Random, span: Interval): Phase[] {
  let result = [...phases];
  const gapMs = Math.max(200, duty.jogs.gapSeconds * 1_000);
  for (const at of drawTimes(random, duty.jogs, span)) {
    const starts = Math.ceil(duty.jogs.edges / 2);
    const jogs: Phase[] = [];
    let time = at;
    for (let i = 0; i < starts; i++) {
      const to = time + Math.round(gapMs * random.between(0.7, 1.3));
      jogs.push({ from: time, to, state: 'starting', modulating: true });
      time = to + Math.round(gapMs * random.between(0.7, 1.3));
      jogs.push({ from: to, to: time, state: 'stopped', modulating: false });
    }
    result = splice(result, jogs, at - 60_000, time + 60_000, (phase) => phase.state === 'stopped');
  }
  return result;
}

/** The bypass contactor carries a running motor, or the drive warms a standing one: modulation against its state. */
function switchModulation(
  phases: readonly Phase[],
  state: RunState,
  wish: DutyScenario['bypass'],
  random: Random,
  span: Interval,
): Phase[] {
  let result = [...phases];
  for (const at of drawTimes(random, wish, span)) {
    const to = at + Math.round(wish.minutes * random.between(0.7, 1.3) * MINUTE_MS);
    const modulating = state !== 'running';
    result = splice(result, [{ from: at, to, state, modulating }], at - 60_000, to + 60_000, (phase) => {
      return phase.state === state && phase.modulating !== modulating;
    });
  }
  return result;
}

/** Puts phases inside the one that covers [from, to), when it is of the right kind; otherwise nothing happens. */
function splice(
  phases: readonly Phase[],
  inner: readonly Phase[],
  from: number,
  to: number,
  fits: (phase: Phase) => boolean,
): Phase[] {
  const index = phases.findIndex((phase) => phase.from <= from && phase.to >= to && fits(phase));
  const outer = phases[index];
  const [first, last] = [inner[0], inner[inner.length - 1]];
  if (outer === undefined || first === undefined || last === undefined) return [...phases];
  const before = { ...outer, to: first.from };
  const after = { ...outer, from: last.to };
  return [...phases.slice(0, index), before, ...inner, after, ...phases.slice(index + 1)];
}

/** Neighbours of one state and one modulation are one phase. */
function joinEqual(phases: readonly Phase[]): Phase[] {
  const joined: Phase[] = [];
  for (const phase of phases) {
    const last = joined[joined.length - 1];
    if (last === undefined || last.state !== phase.state || last.modulating !== phase.modulating)
      joined.push(phase);
    else joined[joined.length - 1] = { ...last, to: phase.to };
  }
  return joined;
}

function drawSpeed(motor: MotorScenario, random: Random, span: Interval): Float64Array {
  const { ratedRpm, profile, share, swing, stepMinutes } = motor.speed;
  const cells = new Float64Array(countCells(span));
  const cellsAStep = Math.max(1, Math.round((stepMinutes * MINUTE_MS) / CELL_MS));
  let walk = 0;
  let level = share;
  for (let cell = 0; cell < cells.length; cell++) {
    if (cell % cellsAStep === 0) {
      const day = ((span.from + cell * CELL_MS) % 86_400_000) / 86_400_000;
      walk = 0.8 * walk + random.normal(0, 0.6 * swing);
      if (profile === 'daily') level = share + swing * Math.sin(2 * Math.PI * (day - 0.25)) + 0.1 * walk;
      else if (profile === 'walk') level = share + Math.max(-swing, Math.min(swing, walk));
      else if (profile === 'steps') level = share + swing * random.integer(-1, 1);
    }
    cells[cell] = Math.round(ratedRpm * Math.max(0.02, level));
  }
  return cells;
}

/** Pump law in the small: the load follows the cube of the speed about its middle, with a little noise. */
function drawLoad(motor: MotorScenario, random: Random, speedRpm: Float64Array): Float64Array {
  const rated = motor.speed.ratedRpm * motor.speed.share;
  return speedRpm.map((rpm) => {
    const load = motor.load.pct * (rpm / rated) ** 3 + random.normal(0, motor.load.swing / 8);
    return Math.round(10 * Math.max(0, Math.min(200, load))) / 10;
  });
}

/** First-order warming towards ambient plus rise while running, and back. */
function warmUp(motor: MotorScenario, phases: readonly Phase[], span: Interval): Float64Array {
  const { ambientC, riseC, minutes } = motor.temperature;
  const cells = new Float64Array(countCells(span));
  const step = 1 - Math.exp(-CELL_MS / Math.max(1, minutes * MINUTE_MS));
  let index = 0;
  let warm = phases[0]?.state === 'running' ? ambientC + riseC : ambientC;
  for (let cell = 0; cell < cells.length; cell++) {
    const at = span.from + cell * CELL_MS;
    while (index + 1 < phases.length && phases[index]!.to <= at) index += 1;
    const target = phases[index]?.state === 'running' ? ambientC + riseC : ambientC;
    warm += (target - warm) * step;
    cells[cell] = warm;
  }
  return cells;
}
