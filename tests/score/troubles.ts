/**
 * What goes wrong around healthy motors, as far as it reaches the window stage: bursts that a whole zone hears, cross-talk of a
 * neighbour's drive, outages and reboots that leave windows out, and clocks that are wrong, so that guards are wider.
 * What the gate can know it has taken out here (guards, coupled switching, bursts heard by enough others); the rest stays in the counts.
 */
import type { Random } from '../../simulator/random.js';

export interface TroubleWish {
  readonly zone: string;
  /** whose drive the sensor hears: its switching (declared as coupled) and a murmur while it modulates; null: nobody's */
  readonly neighbour: string | null;
  /** the murmur, as a share of the motor's own rate */
  readonly murmurShare: number;
  /** stretches that leave no usable increment, and how long they are */
  readonly outagesPerDay: number;
  readonly outageMinutes: number;
  readonly rebootsPerDay: number;
  /** by so much the device's clock is off: the guards of its motor's edges are widened by it */
  readonly clockErrorS: number;
}

const DAY_WINDOWS = 8640;
const HOUR_WINDOWS = 360;
/** What a reboot takes: the reading before and the one after. */
const REBOOT_WINDOWS = 2;

/** Ordinary troubles of a plant: half of the clocks are right to the second, some are minutes off. */
export function drawTroubles(random: Random, zone: string, neighbour: string | null): TroubleWish {
  return {
    zone,
    neighbour: random.chance(0.5) ? neighbour : null,
    murmurShare: random.between(0, 0.1),
    outagesPerDay: random.between(0, 0.5),
    outageMinutes: random.between(5, 120),
    rebootsPerDay: random.between(0, 0.3),
    clockErrorS: random.chance(0.5) ? 0 : Math.exp(random.between(0, Math.log(120))),
  };
}

/** How long until the next outage and the next reboot, and how many windows the present one still takes. */
export interface Troubles {
  toOutage: number;
  toReboot: number;
  left: number;
}

function drawWait(random: Random, perDay: number): number {
  return perDay > 0 ? Math.ceil(random.exponential(DAY_WINDOWS / perDay)) : Infinity;
}

export function openTroubles(random: Random, wish: TroubleWish): Troubles {
  return {
    toOutage: drawWait(random, wish.outagesPerDay),
    toReboot: drawWait(random, wish.rebootsPerDay),
    left: 0,
  };
}

/** Moves on by one window; true: an outage or a reboot took it. */
export function passWindow(troubles: Troubles, random: Random, wish: TroubleWish): boolean {
  if (--troubles.toOutage <= 0) {
    troubles.toOutage = drawWait(random, wish.outagesPerDay);
    troubles.left = Math.max(troubles.left, Math.ceil(random.exponential(6 * wish.outageMinutes)));
  }
  if (--troubles.toReboot <= 0) {
    troubles.toReboot = drawWait(random, wish.rebootsPerDay);
    troubles.left = Math.max(troubles.left, REBOOT_WINDOWS);
  }
  if (troubles.left === 0) return false;
  troubles.left -= 1;
  return true;
}

/** Pulses a second that a zone's bursts add in each window of an hour, and in how many of them there are any. */
export interface ZoneBursts {
  readonly perS: Float64Array;
  readonly windows: number;
}

const BURSTS_PER_DAY = 2;
const QUIET: ZoneBursts = { perS: new Float64Array(HOUR_WINDOWS), windows: 0 };

/** Two bursts a day, 5 s and more, some louder than any motor; those of one zone are heard by all of it alike. */
export function drawZoneBursts(random: Random): ZoneBursts {
  const bursts = random.poisson(BURSTS_PER_DAY / 24);
  if (bursts === 0) return QUIET;
  const perS = new Float64Array(HOUR_WINDOWS);
  for (let i = 0; i < bursts; i++) {
    const loud = random.between(5, 30);
    const from = random.between(0, 10 * HOUR_WINDOWS);
    const to = Math.min(10 * HOUR_WINDOWS, from + 5 + random.exponential(15));
    for (let at = Math.floor(from / 10); at * 10 < to; at++) {
      const seconds = Math.min(to, at * 10 + 10) - Math.max(from, at * 10);
      perS[at]! += (loud * seconds) / 10;
    }
  }
  return { perS, windows: perS.filter((each) => each > 0).length };
}

/** Other motors that must have a vote before a burst can be called common: what `COMMON` asks of a zone. */
export const VOTERS_MIN = 3;
/** Windows that a motor must have run in the hour before to have a vote. */
export const VOTE_WINDOWS_MIN = 60;
