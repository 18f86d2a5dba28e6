/**
 * Feeds simulated motors into the core's window stage: closed minutes and hours per condition bin, as the sweep would close
 * them. A fleet-year is hundreds of millions of readings; this is what they come down to.
 */
import type { Random } from '../../simulator/random.js';
import { DEFAULT_DEVIATION_ALARM, DEVIATION_ALARM_KINDS } from '../../src/config/deviation-defaults.js';
import { tickWatches } from '../../src/core/deviation/watch.js';
import { emptyStep, newState } from '../../src/core/new-state.js';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { canVote, runMotorHour } from './motor-hour.js';
import { openNoise, type Noise, type NoiseWish } from './noise.js';
import {
  drawZoneBursts,
  openTroubles,
  type TroubleWish,
  type Troubles,
  type ZoneBursts,
} from './troubles.js';

export const HOUR_MS = 3_600_000;

export interface MotorWish extends NoiseWish, TroubleWish {
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
  readonly troubles: Troubles;
  /** whose drive its sensor hears; it runs its hour first */
  neighbour: Life | null;
  running: boolean;
  /** base windows left in the present stretch, and of the guard around its beginning */
  left: number;
  guard: number;
  /** 1 for each window of the hour in which its drive switched */
  readonly switched: Uint8Array;
  /** windows of the last hour that it ran */
  ranWindows: number;
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
  /** by zone, the chance of its bursts */
  readonly zones: ReadonlyMap<string, Random>;
  /** motors of the zone that are not simulated, but have a vote on common bursts */
  readonly votersBeside: number;
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
  votersBeside = 0,
): Fleet {
  const plan = makePlan(
    wishes.map(({ key, group, zone }) => motorPlan(key, { dutyGroup: group, zone })),
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
      troubles: openTroubles(own, wish),
      neighbour: null,
      running: false,
      left: 0,
      guard: 0,
      switched: new Uint8Array(360),
      ranWindows: 0,
      highLoad: false,
      loadLeft: 0,
      ranMs: 0,
      factor: 1,
    };
  });
  lives.forEach((life, i) => {
    life.neighbour = lives.slice(0, i).find(({ wish }) => wish.key === life.wish.neighbour) ?? null;
  });
  const zones = new Map(wishes.map(({ zone }) => [zone, random(`zone ${zone}`)]));
  return { state, lives, zones, votersBeside, raised: [], at: FLEET_START };
}

/** Runs all motors for one hour. */
export function runHour(fleet: Fleet): void {
  const { state, at } = fleet;
  emptyStep(state);
  runZones(fleet);
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

function runZones({ state, lives, zones, votersBeside, at }: Fleet): void {
  const bursts = new Map<string, ZoneBursts>();
  for (const [zone, random] of zones) bursts.set(zone, drawZoneBursts(random));
  const voters = new Map<string, number>();
  for (const life of lives) {
    const { zone } = life.wish;
    if (canVote(life)) voters.set(zone, (voters.get(zone) ?? votersBeside) + 1);
  }
  const own = new Set(lives.filter(canVote));
  for (const life of lives) {
    const { zone } = life.wish;
    const others = (voters.get(zone) ?? votersBeside) - (own.has(life) ? 1 : 0);
    runMotorHour(state, life, at, { bursts: bursts.get(zone)!, voters: others });
  }
}
