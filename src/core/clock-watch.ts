/**
 * The watch on a device's clock: how far its times lie from those of arrival, and whether that is an error or a delay.
 * Source: our choice.
 */
import type { ReadingFact } from './facts.js';
import { sayOffset } from './figures.js';
import { diagnose, touchHours, type CoreState, type SensorState } from './state.js';
import { Flag } from './words.js';

/** Live readings whose lag tells the clock error of a device. */
const LAGS = 30;
/** Readings that may be lost on the way while a clock steps. */
const FEW = 4;

export interface ClockWatch {
  /** newest `at` of all readings; 0: none yet */
  lastAt: number;
  /** readings on end that came later than a good clock explains, and the least and most of their arrival − at */
  count: number;
  least: number;
  most: number;
  /** readings on end whose time agrees, while the clock counts as off */
  inOrder: number;
  off: boolean;
}

function sayClockOff(state: CoreState, sensor: SensorState, at: number, lag: number): void {
  sensor.clock.off = true;
  diagnose(state, sensor.key, 'clock-off', at, `the device's time is ${sayOffset(at - lag, at)}`);
}

const AGREES = "the device's time agrees with the gateway's again";
const VARIES =
  "the device's readings come late by more and less: a delay on the way, which says nothing of its clock";

/** Whoever put the clock right is told so. */
function sayClockRight(state: CoreState, sensor: SensorState, at: number, detail = AGREES): void {
  sensor.clock.off = false;
  diagnose(state, sensor.key, 'clock-right', at, detail);
}

/** Of a device whose clock was off, and that sends no time now: what it does not say cannot be wrong. */
function watchWithoutTime(state: CoreState, sensor: SensorState, receivedAt: number): void {
  const { clock } = sensor;
  if (!clock.off) return;
  touchHours(state, sensor);
  clock.count = 0;
  clock.inOrder += 1;
  if (clock.inOrder < LAGS) return;
  sayClockRight(state, sensor, receivedAt);
  clock.inOrder = 0;
}

/** Whether time fell by more than a good clock may while the sequence went on. */
function steppedBack(sensor: SensorState, fact: ReadingFact): boolean {
  const { current, plan } = sensor;
  if (current === null || current.device !== fact.device || current.boot !== fact.boot) return false;
  const last = current.rows[current.rows.length - 1];
  if (last === undefined || last.seq === null || fact.seq === null || fact.seq <= last.seq) return false;
  // without boot numbers a much higher sequence may be of the time before a restart
  const follows = current.bySeq || fact.seq - last.seq <= FEW;
  return follows && (last.flags & Flag.noAt) === 0 && fact.at! < last.to - plan.clockErrorMs;
}

/**
 * Clock error of the device, from arrival − at of readings newer than all before. A reading cannot arrive before it was
 * taken, so a clock that is ahead shows at once, and so does one that fell while the sequence went on. Else one that is behind shows only when the lag stays put for `LAGS` readings
 * on end: a delay varies, and the lag of a backlog melts as it is sent, but an error keeps.
 */
export function watchClock(state: CoreState, sensor: SensorState, fact: ReadingFact): void {
  const { clock, plan } = sensor;
  if (fact.at === null) return watchWithoutTime(state, sensor, fact.receivedAt);
  const fell = fact.at <= clock.lastAt;
  if (fell && !steppedBack(sensor, fact)) return;
  // a time from the future must not hide the readings that come after it
  clock.lastAt = Math.min(fact.at, fact.receivedAt + plan.clockErrorMs);
  const lag = fact.receivedAt - fact.at;
  const inOrder = Math.abs(lag) <= plan.clockErrorMs;
  if (inOrder && !clock.off && clock.count === 0) return;
  touchHours(state, sensor);
  if (lag < -plan.clockErrorMs || (fell && !inOrder)) {
    if (!clock.off) sayClockOff(state, sensor, fact.receivedAt, lag);
    clock.count = 0;
    clock.inOrder = 0;
  } else if (inOrder) {
    clock.count = 0;
    clock.inOrder += 1;
    if (clock.inOrder >= LAGS && clock.off) sayClockRight(state, sensor, fact.receivedAt);
  } else {
    clock.inOrder = 0;
    clock.least = clock.count === 0 ? lag : Math.min(clock.least, lag);
    clock.most = clock.count === 0 ? lag : Math.max(clock.most, lag);
    clock.count += 1;
    if (clock.count < LAGS) return;
    const steady = clock.most - clock.least < Math.min(clock.least, plan.intervalMs);
    if (steady && !clock.off) sayClockOff(state, sensor, fact.receivedAt, clock.least);
    else if (!steady && clock.off) sayClockRight(state, sensor, fact.receivedAt, VARIES);
    clock.count = 0;
  }
  if (!clock.off) clock.inOrder = 0;
}
