/**
 * What a sensor tells its zone as it is swept: whether it has a vote on common bursts, and which of its increments lie in
 * bursting windows.
 */
import { MIXED_BIN } from './bin-name.js';
import { isQuiet } from './common.js';
import { WINDOW_MS } from './ring.js';
import type { Burst, Increment } from './rows.js';
import { floorTo, markDirty, touch, type CoreState, type SensorState, type ZoneState } from './state.js';

/** How long a pause in a sensor's windows keeps its vote alive. */
export function voteSlack(sensor: SensorState): number {
  return floorTo(3 * sensor.plan.intervalMs, WINDOW_MS) + 2 * WINDOW_MS;
}

/** The sensor's own window against its own last hour: its vote is held; true when the window bursts. */
export function voteOn(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  window: number,
  ms: number,
): boolean {
  const index = window / WINDOW_MS;
  const plan = state.plan.common;
  const votes =
    ms > 0 &&
    sensor.ring.binAt(index) !== MIXED_BIN &&
    sensor.ring.countBefore(index) >= plan.windowsMin &&
    isQuiet(sensor.motor.timeline.changes, window + WINDOW_MS, plan.quietMs);
  holdVote(state, sensor, zone, window, votes);
  return votes && sensor.ring.isBurst(index, plan.tail);
}

/** A stretch that is only lengthened needs no checkpoint: a restart sees it from the rows. */
function holdVote(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  window: number,
  votes: boolean,
): void {
  const slack = voteSlack(sensor);
  const { vote } = sensor;
  if (vote !== null && votes && window <= vote.to) {
    vote.to = window + slack;
    return;
  }
  if (vote !== null) touch(state, sensor);
  if (vote !== null && (votes || window > vote.to)) closeVote(state, sensor);
  if (!votes || sensor.vote !== null) return;
  sensor.vote = {
    zone: zone.key,
    motor: sensor.motor.key,
    sensor: sensor.key,
    from: window,
    to: window + slack,
  };
  zone.votes.push(sensor.vote);
  state.out.votes.push(sensor.vote);
  touch(state, sensor);
}

/** Ends a stretch of votes; its row has its final end from now on. */
export function closeVote(state: CoreState, sensor: SensorState): void {
  if (sensor.vote === null) return;
  state.out.votes.push(sensor.vote);
  sensor.vote = null;
  touch(state, sensor);
}

/** Tells the zone; when that makes a common burst possible, what others have swept already is looked at again. */
export function addBurst(
  state: CoreState,
  sensor: SensorState,
  zone: ZoneState,
  window: number,
  row: Increment,
): void {
  const burst: Burst = {
    zone: zone.key,
    motor: sensor.motor.key,
    sensor: sensor.key,
    window,
    from: row.from,
    to: row.to,
  };
  zone.bursts.push(burst);
  state.out.bursts.push(burst);
  markCommon(state, zone, burst.from, burst.to);
}

/** Marks swept increments of the zone's sensors in [from, to) when enough motors burst there. */
function markCommon(state: CoreState, zone: ZoneState, from: number, to: number): void {
  const motors = new Set<string>();
  for (const burst of zone.bursts) if (burst.from < to && burst.to > from) motors.add(burst.motor);
  if (motors.size < state.plan.common.motorsMin) return;
  for (const motor of zone.motors) {
    for (const other of motor.sensors) {
      const reach = state.plan.gate.maxIntervalFactor * other.plan.intervalMs;
      if (other.sweptTo > from) markDirty(state, other, from, to + reach);
    }
  }
}
