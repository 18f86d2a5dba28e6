/** How surely and how fast a rise of one motor is found. */
import { openStream } from '../../simulator/random.js';
import { HOUR_MS, openFleet, runHour } from './feed.js';
import { drawMotor } from './fleet.js';
import type { Shape } from './noise.js';
import { VOTERS_MIN } from './troubles.js';

export interface RiseWish {
  readonly name: string;
  readonly factor: number;
  readonly rate: readonly [number, number];
  readonly dispersion: readonly [number, number];
  readonly shape: Shape | null;
  /** running days after the rise within which it must be found */
  readonly runningDays: number;
  readonly cases: number;
}

export interface RiseResult {
  name: string;
  cases: number;
  found: number;
  share: number;
  /** running minutes to the first alarm, of those found */
  medianMinutes: number | null;
  p95Minutes: number | null;
  byKind: Record<string, number>;
  /** no yardstick at the rise: neither found nor missed */
  unlearnt: number;
}

/** Plants of 60 motors share the budget; one of them is simulated. */
const MOTORS = 60;
const LEARN_DAYS = 12;
const LEARN_DAYS_MAX = 40;

export function scoreRise(seed: number, wish: RiseWish, budgetPerMonth: number): RiseResult {
  const minutes: number[] = [];
  const byKind: Record<string, number> = {};
  let unlearnt = 0;
  for (let c = 0; c < wish.cases; c++) {
    const random = openStream(seed, 'rise', wish.name, String(c));
    const drawn = drawMotor(random, wish.rate, wish.dispersion);
    const motor = wish.shape === null ? drawn : { ...drawn, shape: wish.shape };
    const fleet = openFleet(() => random, [motor], budgetPerMonth / MOTORS, VOTERS_MIN);
    const life = fleet.lives[0]!;
    const { yardsticks } = life.sensor.watch.baseline;
    const at = random.integer(0, 23);
    for (let h = 0; h < LEARN_DAYS * 24 + at || (yardsticks.size < 2 && h < LEARN_DAYS_MAX * 24); h++)
      runHour(fleet);
    if (yardsticks.size === 0) {
      unlearnt += 1;
      continue;
    }
    fleet.raised.length = 0;
    life.factor = wish.factor;
    const before = life.ranMs;
    const since = fleet.at;
    let found: number | null = null;
    while (found === null && life.ranMs - before < wish.runningDays * 24 * HOUR_MS) {
      const atHour = life.ranMs;
      runHour(fleet);
      const first = fleet.raised.find((raise) => raise.at > since);
      if (first === undefined) continue;
      byKind[first.kind] = (byKind[first.kind] ?? 0) + 1;
      const share = Math.min(1, Math.max(0, (first.at - (fleet.at - HOUR_MS)) / HOUR_MS));
      found = (atHour - before + share * (life.ranMs - atHour)) / 60_000;
    }
    if (found !== null) minutes.push(found);
  }
  minutes.sort((a, b) => a - b);
  const cases = wish.cases - unlearnt;
  const at = (share: number): number | null => minutes[Math.floor(share * (minutes.length - 1))] ?? null;
  return {
    ...{ name: wish.name, cases, found: minutes.length, share: cases > 0 ? minutes.length / cases : 0 },
    ...{ medianMinutes: at(0.5), p95Minutes: at(0.95), byKind, unlearnt },
  };
}
