/**
 * Feeds simulated motors into the core's window stage: closed minutes and hours per condition bin, as the sweep would close
 * them. A fleet-year is hundreds of millions of readings; this is what they come down to.
 */
import type { Random } from '../../simulator/random.js';
import { DEFAULT_DEVIATION_ALARM, DEVIATION_ALARM_KINDS } from '../../src/config/deviation-defaults.js';
import { evaluateExcess } from '../../src/core/deviation/excess.js';
import { closeWatchHour, tickWatches } from '../../src/core/deviation/watch.js';
import { emptyStep, newState } from '../../src/core/new-state.js';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import type { Spread } from '../../src/core/rows.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { emptySums } from '../../src/core/window.js';
import { Class } from '../../src/core/words.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { openNoise, type Noise, type NoiseWish } from './noise.js';

export const HOUR_MS = 3_600_000;
const WINDOWS = 360;
/** What the guards around a start or a stop take from running, in base windows. */
const GUARD_WINDOWS = 2;

export interface MotorWish extends NoiseWish {
  readonly key: string;
  readonly group: string;
  /** starts a day, and share of the day that it runs */
  readonly startsPerDay: number;
  readonly runShare: number;
  /** rate at high load over that at low load; the two are condition bins */
  readonly loadFactor: number;
  /** swing of the rate over the day that no bin tells apart, as a share */
  readonly daySwing: number;
  /** counts a minute while it stands */
  readonly backgroundPerMin: number;
}

export interface Life {
  readonly wish: MotorWish;
  readonly sensor: SensorState;
  readonly random: Random;
  readonly noise: Noise;
  running: boolean;
  /** base windows left in the present stretch */
  left: number;
  highLoad: boolean;
  loadLeft: number;
  /** running ms so far */
  ranMs: number;
  /** what befell it: the rate is multiplied by this */
  factor: number;
}

export interface Raised {
  key: string;
  kind: string;
  at: number;
}

export interface Fleet {
  readonly state: CoreState;
  readonly lives: Life[];
  readonly raised: Raised[];
  at: number;
}

export const FLEET_START = Date.UTC(2026, 0, 1);

function alarmPlans(motors: readonly MotorWish[], budgetPerMonth: number): DeviationAlarmPlan[] {
  const share = budgetPerMonth / (motors.length * DEVIATION_ALARM_KINDS.length);
  return motors.flatMap(({ key }) =>
    DEVIATION_ALARM_KINDS.map((kind) => ({
      ...DEFAULT_DEVIATION_ALARM[kind],
      id: `${key}.de-${kind}`,
      motor: key,
      alarm: `de-${kind}`,
      sensor: `${key}/de`,
      kind,
      setpointPerMin: null,
      falseAlarmsPerMonth: share,
    })),
  );
}

export function openFleet(
  random: (name: string) => Random,
  wishes: readonly MotorWish[],
  budgetPerMonth: number,
): Fleet {
  const plan = makePlan(
    wishes.map(({ key, group }) => motorPlan(key, { dutyGroup: group })),
    wishes.map(({ key }) => sensorPlan(key, 'de')),
    { deviationAlarms: alarmPlans(wishes, budgetPerMonth) },
  );
  const state = newState(plan);
  state.now = FLEET_START;
  const lives = wishes.map((wish): Life => {
    const own = random(wish.key);
    return {
      wish,
      sensor: state.sensors.get(`${wish.key}/de`)!,
      random: own,
      noise: openNoise(own, wish),
      running: false,
      left: 0,
      highLoad: false,
      loadLeft: 0,
      ranMs: 0,
      factor: 1,
    };
  });
  return { state, lives, raised: [], at: FLEET_START };
}

/** Runs all motors for one hour. */
export function runHour(fleet: Fleet): void {
  const { state, at } = fleet;
  emptyStep(state);
  for (const life of fleet.lives) runMotorHour(state, life, at);
  fleet.at = at + HOUR_MS;
  state.now = fleet.at;
  while (state.unread.size > 0) tickWatches(state);
  state.now = fleet.at + 60_000;
  tickWatches(state);
  for (const entry of state.out.journal) {
    if (entry.evidence === null || (entry.to !== 'unacknowledged' && entry.to !== 'acknowledged')) continue;
    const [key = '', alarm = ''] = entry.subject.split('.');
    fleet.raised.push({ key, kind: alarm.replace(/^de-/, ''), at: entry.at });
  }
}

function turn(life: Life): void {
  const dayWindows = 8640;
  const { startsPerDay, runShare } = life.wish;
  life.running = !life.running;
  const share = life.running ? runShare : 1 - runShare;
  life.left = 1 + Math.round(life.random.exponential((share * dayWindows) / startsPerDay));
}

interface Open {
  pulses: number;
  ms: number;
}

function newSpread(sensor: string, hour: number, bin: string): Spread {
  return { sensor, hour, bin, pulses: 0, ms: 0, q: [0, 0, 0, 0], k: [0, 0, 0, 0] };
}

const LENGTHS = [1, 6, 60, 360] as const;
const BINS = ['load ..60', 'load 60..'] as const;

/** One motor's hour: minutes into the fast look, the hour's spreads and background into the watch. */
export function runMotorHour(state: CoreState, life: Life, hour: number): void {
  const { sensor, wish } = life;
  const spreads = BINS.map((bin) => newSpread(sensor.key, hour, bin));
  const open = BINS.map(() => LENGTHS.map((): Open => ({ pulses: 0, ms: 0 })));
  const swing = 1 + wish.daySwing * Math.sin((2 * Math.PI * (hour % 86_400_000)) / 86_400_000);
  let guard = 0;
  let stood = 0;
  for (let i = 0; i < WINDOWS; i++) {
    if (life.left <= 0) {
      turn(life);
      guard = GUARD_WINDOWS;
    }
    life.left -= 1;
    if (life.loadLeft <= 0) {
      life.highLoad = !life.highLoad;
      life.loadLeft = 30 + Math.round(life.random.exponential(720));
    }
    life.loadLeft -= 1;
    const bin = life.highLoad ? 1 : 0;
    if (guard > 0) guard -= 1;
    else if (!life.running) stood += 1;
    else {
      const pulses = life.noise(life.factor * swing * (bin === 1 ? wish.loadFactor : 1));
      life.ranMs += 10_000;
      for (const sum of open[bin]!) {
        sum.pulses += pulses;
        sum.ms += 10_000;
      }
    }
    closeBlocks(spreads, open, i + 1);
    if ((i + 1) % 6 === 0) closeMinute(state, sensor, hour + (i - 5) * 10_000, open);
    resetBlocks(open, i + 1);
  }
  for (const spread of spreads) if (spread.ms > 0) sensor.spreads.push(spread);
  if (sensor.spreads.length > 96) sensor.spreads.splice(0, sensor.spreads.length - 96);
  const sums = emptySums();
  for (const spread of spreads) sums.ms[Class.running]! += spread.ms;
  sums.ms[Class.background] = stood * 10_000;
  sums.pulses[Class.background] = life.random.poisson((wish.backgroundPerMin * stood) / 6);
  const cells = spreads.filter(({ ms }) => ms > 0).map(({ bin, pulses, ms }) => ({ bin, pulses, ms }));
  closeWatchHour(state, sensor, hour, sums, cells);
}

function closeBlocks(spreads: Spread[], open: Open[][], done: number): void {
  for (let bin = 0; bin < spreads.length; bin++) {
    const spread = spreads[bin]!;
    for (let b = 0; b < LENGTHS.length; b++) {
      const sum = open[bin]![b]!;
      if (done % LENGTHS[b]! !== 0 || sum.ms === 0) continue;
      spread.q[b]! += sum.pulses ** 2 / (sum.ms / 1000);
      spread.k[b]! += 1;
      if (b !== 0) continue;
      spread.pulses += sum.pulses;
      spread.ms += sum.ms;
    }
  }
}

function resetBlocks(open: Open[][], done: number): void {
  for (const sums of open) {
    for (let b = 0; b < LENGTHS.length; b++) {
      if (done % LENGTHS[b]! !== 0) continue;
      sums[b]!.pulses = 0;
      sums[b]!.ms = 0;
    }
  }
}

function closeMinute(state: CoreState, sensor: SensorState, start: number, open: readonly Open[][]): void {
  let pulses = 0;
  let ms = 0;
  const bins = [];
  for (let bin = 0; bin < open.length; bin++) {
    const sum = open[bin]![1]!;
    if (sum.ms === 0) continue;
    pulses += sum.pulses;
    ms += sum.ms;
    bins.push({ bin: BINS[bin]!, pulses: sum.pulses, ms: sum.ms });
  }
  if (ms === 0) return;
  sensor.minutes.push({ start, pulses, ms, bins });
  if (sensor.minutes.length > 180) sensor.minutes.splice(0, sensor.minutes.length - 120);
  evaluateExcess(state, sensor);
}
