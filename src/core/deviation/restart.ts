/**
 * Baselines that begin anew, because what was done to the motor makes its counts another measure, and that go on when it
 * turns out not to have been done.
 */
import type { ActionKind } from '../../../shared/maintenance-terms.js';
import type { MaintenanceAction } from '../maintenance-rows.js';
import type { CoreState, SensorState } from '../state.js';
import { joinParts, shareDays } from './aside.js';
import { newBaseline } from './baseline.js';
import { endComparisons, resetTimers } from './comparison-end.js';
import { DAY_MS } from './day-sums.js';
import { newRise } from './rise.js';
import { tell } from './watch.js';
import { touchWatch } from './watch-state.js';

/** Work that is not meant to change the discharges: silence after it wants a look at the sensor. */
const NO_REMEDIES: readonly ActionKind[] = ['sensor-moved', 'device-swapped', 'other'];

/** Whether the action was done at the place of the sensor; `both`: both bearings. */
function isAt(end: string | null, position: string): boolean {
  return end === null || end === position || (end === 'both' && (position === 'de' || position === 'nde'));
}

function isRemedy({ action }: MaintenanceAction): boolean {
  return !NO_REMEDIES.includes(action);
}

function breaksAt({ plan }: SensorState, { breaks, end }: MaintenanceAction): boolean {
  return breaks === 'motor' || (breaks === 'place' && isAt(end, plan.position));
}

/** What an action changes for the baselines of its motor: which begin anew, and which silence it explains. */
export function followAction(state: CoreState, action: MaintenanceAction): void {
  for (const sensor of state.motors.get(action.motor)?.sensors ?? []) {
    if (isRemedy(action)) sensor.watch.remedyAt = Math.max(sensor.watch.remedyAt, action.at);
    if (breaksAt(sensor, action)) restartWatch(state, sensor, action);
    if (isRemedy(action) || breaksAt(sensor, action)) touchWatch(state, sensor);
  }
}

/** An entry was withdrawn: what it laid aside counts again, up to the next work that stands. */
export function followWithdrawal(state: CoreState, action: MaintenanceAction): void {
  for (const sensor of state.motors.get(action.motor)?.sensors ?? []) {
    const { watch } = sensor;
    const stands = [...state.maintenance.actions.values()]
      .filter(({ motor, withdrawn }) => motor === action.motor && withdrawn === null)
      .sort((a, b) => a.at - b.at || a.id - b.id);
    watch.remedyAt = stands.filter(isRemedy).at(-1)?.at ?? 0;
    if (breaksAt(sensor, action)) takeBack(state, sensor, action);
    for (const other of stands) {
      const isApart = watch.aside.some((part) => part.action === other.id);
      if (breaksAt(sensor, other) && !isApart) restartWatch(state, sensor, other);
    }
    touchWatch(state, sensor);
  }
}

/**
 * Maintenance that breaks comparability: what was counted before does not count any more, and alarms on the old yardstick
 * return, for they compare with what is no more. Where the hours of its day are not known any more learning begins with the
 * next whole day.
 */
export function restartWatch(state: CoreState, sensor: SensorState, action: MaintenanceAction): void {
  const { watch } = sensor;
  const { id, at, action: why } = action;
  if (at <= watch.baseline.since) return;
  const hadAny = watch.days.length > 0 || watch.baseline.yardsticks.size > 0;
  const { before, after, from } = shareDays(sensor, at);
  watch.aside.push({ action: id, laidAt: state.now, baseline: watch.baseline, days: before });
  watch.baseline = newBaseline(from);
  watch.days = after;
  watch.rise = newRise();
  watch.toldNoYardstick = false;
  watch.oddLooks = 0;
  watch.plainLooks = 0;
  const says = `${why}: the counts before it are no yardstick any more, ${sensor.key} is learnt anew`;
  endComparisons(state, sensor, ['above-baseline', 'above-peers', 'rising'], at, says);
  if (hadAny) tell(state, sensor, at, 'baseline-restarted', `${why}: learning begins anew`);
}

/** Puts what an action laid aside together with what came after it. */
function takeBack(state: CoreState, sensor: SensorState, { id, at, action }: MaintenanceAction): void {
  const { watch } = sensor;
  const index = watch.aside.findIndex((part) => part.action === id);
  const part = watch.aside[index];
  if (part === undefined) {
    const { since } = watch.baseline;
    const isOld = since >= at && since <= at + DAY_MS;
    const says = `${action} withdrawn: what was counted before it is not kept any more, learning goes on as it began then`;
    if (isOld) tell(state, sensor, state.now, 'baseline-kept', says);
    return;
  }
  watch.aside.splice(index, 1);
  const next = watch.aside[index];
  if (next !== undefined) {
    Object.assign(next, joinParts(part, next));
    return;
  }
  const hadAny = part.days.length > 0 || part.baseline.yardsticks.size > 0;
  Object.assign(watch, joinParts(part, watch));
  watch.rise = newRise();
  for (const plan of state.deviationAlarms.get(sensor.key) ?? []) {
    const record = state.alarms.get(plan.id);
    if (record === undefined || (plan.kind !== 'above-baseline' && plan.kind !== 'rising')) continue;
    resetTimers(state, record);
  }
  if (!hadAny) return;
  tell(
    state,
    sensor,
    state.now,
    'baseline-resumed',
    `${action} withdrawn: what was counted before it counts again`,
  );
}
