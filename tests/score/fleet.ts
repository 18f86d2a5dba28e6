/** Fleets as plants have them: groups on like duty, healthy motors that differ a little, bursts of every kind. */
import { openStream, type Random } from '../../simulator/random.js';
import type { MotorWish } from './feed.js';
import { SHAPES } from './noise.js';
import { drawTroubles } from './troubles.js';

/** 1 σ of the log rate of healthy motors of one group. */
export const HEALTHY_SPREAD = 0.15;

export function logBetween(random: Random, low: number, high: number): number {
  return Math.exp(random.between(Math.log(low), Math.log(high)));
}

export interface FleetWish {
  readonly motors: number;
  /** pulses per second, of groups */
  readonly rate: readonly [low: number, high: number];
  readonly dispersion: readonly [low: number, high: number];
}

/** Motors in groups of 6 to 12; each two groups are one zone, and a motor may hear the one before it. */
export function drawFleet(seed: number, name: string, wish: FleetWish): MotorWish[] {
  const random = openStream(seed, 'fleet', name);
  const troubles = openStream(seed, 'troubles', name);
  const motors: MotorWish[] = [];
  for (let group = 1; motors.length < wish.motors; group++) {
    const left = wish.motors - motors.length;
    const size = left <= 12 ? left : Math.min(random.integer(6, 12), left - 6);
    const ratePerS = logBetween(random, ...wish.rate);
    const dispersion = logBetween(random, ...wish.dispersion);
    const zone = `z${Math.ceil(group / 2)}`;
    for (let i = 0; i < size; i++) {
      const before = motors[motors.length - 1];
      const neighbour = before?.zone === zone ? before.key : null;
      motors.push({
        key: `m${motors.length + 1}`,
        group: `g${group}`,
        shape: SHAPES[random.integer(0, SHAPES.length - 1)]!,
        ratePerS: ratePerS * Math.exp(random.normal(0, HEALTHY_SPREAD)),
        dispersion,
        burstS: logBetween(random, 5, 300),
        startsPerDay: random.integer(5, 40),
        runShare: random.between(0.4, 0.95),
        loadFactor: random.between(1, 1.8),
        daySwing: random.between(0, 0.1),
        backgroundPerMin: random.chance(0.3) ? random.between(0.01, 0.3) : 0,
        ...drawTroubles(troubles, zone, neighbour),
      });
    }
  }
  return motors;
}

/** One motor alone, for a rise whose size and place are known. */
export function drawMotor(
  random: Random,
  rate: readonly [number, number],
  dispersion: readonly [number, number],
): MotorWish {
  return {
    key: 'm1',
    group: 'g1',
    shape: SHAPES[random.integer(0, SHAPES.length - 1)]!,
    ratePerS: logBetween(random, ...rate),
    dispersion: logBetween(random, ...dispersion),
    burstS: logBetween(random, 5, 300),
    startsPerDay: random.integer(5, 40),
    runShare: random.between(0.4, 0.95),
    loadFactor: random.between(1, 1.8),
    daySwing: random.between(0, 0.1),
    backgroundPerMin: 0,
    ...drawTroubles(random, 'z1', null),
  };
}
