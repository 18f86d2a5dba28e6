/**
 * Backlogs: rows that come so late, or wait so long, that memory no longer holds what is around them. The sweep passes them
 * by, and a look at the past judges them from the store.
 */
import { WINDOW_MS } from './ring.js';
import { floorTo, markUnjudged, type CoreState, type SensorState } from './state.js';
import { windowOf } from './window.js';
import { PERIOD_MS } from './words.js';

/** A run state in memory tells less than all this long after its first message. */
const FORGOTTEN_MARGIN_MS = 900_000;

/**
 * Rows of windows before `bound` (a multiple of 10 s) are not swept but left to a look at the past, which reads from the
 * store what memory no longer holds around them.
 */
export function setAside(state: CoreState, sensor: SensorState, bound: number): void {
  if (bound <= sensor.sweptTo) return;
  sensor.sweptTo = bound;
  const { pending } = sensor;
  const first = pending[0];
  if (first === undefined || windowOf(first) >= bound) return;
  let end = 1;
  while (end < pending.length && windowOf(pending[end]!) < bound) end++;
  pending.splice(0, end);
  markUnjudged(state, sensor, windowOf(first), bound);
}

/** Windows before this reach back behind the drive messages in memory, as those of a long backlog do. */
export function forgottenTo(state: CoreState, sensor: SensorState): number {
  let known = Math.max(sensor.motor.knownFrom, sensor.motor.binsFrom);
  for (const motor of sensor.coupled) known = Math.max(known, motor.knownFrom);
  const backlog = Math.min(known + FORGOTTEN_MARGIN_MS, state.now - PERIOD_MS['1h']);
  return floorTo(Math.max(known, backlog) - 1, WINDOW_MS) + WINDOW_MS;
}
