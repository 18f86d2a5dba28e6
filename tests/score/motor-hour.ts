/** One motor's hour: base windows into minutes for the fast look, and into the hour's spreads and background for the watch. */
import { evaluateExcess } from '../../src/core/deviation/excess.js';
import { closeWatchHour } from '../../src/core/deviation/watch.js';
import type { Spread } from '../../src/core/rows.js';
import type { CoreState, SensorState } from '../../src/core/state.js';
import { emptySums } from '../../src/core/window.js';
import { Class } from '../../src/core/words.js';
import type { Life } from './feed.js';
import { passWindow, VOTE_WINDOWS_MIN, VOTERS_MIN, type ZoneBursts } from './troubles.js';

const WINDOWS = 360;
/** What the guards around a start or a stop take from running, in base windows. */
const GUARD_WINDOWS = 2;
const DAY_WINDOWS = 8640;
const LENGTHS = [1, 6, 60, 360] as const;
const BINS = ['load ..60', 'load 60..'] as const;

interface Open {
  pulses: number;
  ms: number;
}

/** What the zone does to a motor in an hour: its bursts, and how many other motors of it could tell that they are common. */
export interface Surroundings {
  readonly bursts: ZoneBursts;
  readonly voters: number;
}

/** Whether a motor could tell a burst from its own counts, by what it did in the hour before. */
export function canVote(life: Life): boolean {
  return life.running && life.ranWindows >= VOTE_WINDOWS_MIN;
}

function newSpread(sensor: string, hour: number, bin: string): Spread {
  return { sensor, hour, bin, pulses: 0, ms: 0, q: [0, 0, 0, 0], k: [0, 0, 0, 0] };
}

function turn(life: Life, window: number): void {
  const { startsPerDay, runShare } = life.wish;
  life.running = !life.running;
  const share = life.running ? runShare : 1 - runShare;
  life.left = 1 + Math.round(life.random.exponential((share * DAY_WINDOWS) / startsPerDay));
  life.switched[window] = 1;
}

/** Moves the motor on by one window; true: none of the classes running and background has it. */
function moveOn(life: Life, window: number, around: Surroundings): boolean {
  const { wish } = life;
  life.switched[window] = 0;
  life.guard = Math.max(0, life.guard - 1);
  if (life.left <= 0) {
    turn(life, window);
    life.guard = GUARD_WINDOWS + Math.ceil(wish.clockErrorS / 10);
  }
  life.left -= 1;
  if (life.loadLeft <= 0) {
    life.highLoad = !life.highLoad;
    life.loadLeft = 30 + Math.round(life.random.exponential(720));
  }
  life.loadLeft -= 1;
  const isLost = passWindow(life.troubles, life.random, wish);
  const isCoupled = life.neighbour?.switched[window] === 1;
  const isCommon = around.bursts.perS[window]! > 0 && around.voters >= VOTERS_MIN;
  return isLost || isCoupled || life.guard > 0 || (isCommon && life.running);
}

/** Share of the neighbour's hour in which it modulated. */
function neighbourShare({ neighbour }: Life): number {
  return neighbour === null ? 0 : neighbour.ranWindows / WINDOWS;
}

export function runMotorHour(state: CoreState, life: Life, hour: number, around: Surroundings): void {
  const { sensor, wish, random } = life;
  const spreads = BINS.map((bin) => newSpread(sensor.key, hour, bin));
  const open = BINS.map(() => LENGTHS.map((): Open => ({ pulses: 0, ms: 0 })));
  const murmur = wish.murmurShare * neighbourShare(life);
  const swing = murmur + 1 + wish.daySwing * Math.sin((2 * Math.PI * (hour % 86_400_000)) / 86_400_000);
  let ran = 0;
  let stood = 0;
  let heard = 0;
  for (let i = 0; i < WINDOWS; i++) {
    const isTaken = moveOn(life, i, around);
    const bin = life.highLoad ? 1 : 0;
    const burst = around.bursts.perS[i]!;
    const fromOutside = burst > 0 && !isTaken ? random.poisson(burst * 10) : 0;
    if (life.running) ran += 1;
    if (!isTaken && !life.running) {
      stood += 1;
      heard += fromOutside;
    } else if (!isTaken) {
      const own = life.noise(life.factor * swing * (bin === 1 ? wish.loadFactor : 1));
      life.ranMs += 10_000;
      for (const sum of open[bin]!) {
        sum.pulses += own + fromOutside;
        sum.ms += 10_000;
      }
    }
    closeBlocks(spreads, open, i + 1);
    if ((i + 1) % 6 === 0) closeMinute(state, sensor, hour + (i - 5) * 10_000, open);
    resetBlocks(open, i + 1);
  }
  life.ranWindows = ran;
  const perMin = wish.backgroundPerMin + 60 * murmur * wish.ratePerS;
  closeHour(state, sensor, hour, spreads, { stood, pulses: heard + random.poisson((perMin * stood) / 6) });
}

function closeHour(
  state: CoreState,
  sensor: SensorState,
  hour: number,
  spreads: readonly Spread[],
  background: { readonly stood: number; readonly pulses: number },
): void {
  for (const spread of spreads) if (spread.ms > 0) sensor.spreads.push(spread);
  if (sensor.spreads.length > 96) sensor.spreads.splice(0, sensor.spreads.length - 96);
  const sums = emptySums();
  for (const spread of spreads) sums.ms[Class.running]! += spread.ms;
  sums.ms[Class.background] = background.stood * 10_000;
  sums.pulses[Class.background] = background.pulses;
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
