/** Baselines that begin anew, because what was done to the motor makes its counts another measure. */
import type { ActionKind } from '../../../shared/maintenance-terms.js';
import { transition } from '../alarm.js';
import type { MaintenanceAction } from '../maintenance-rows.js';
import type { CoreState, SensorState } from '../state.js';
import { newBaseline } from './baseline.js';
import { DAY_MS } from './day-sums.js';
import { freeze } from './evidence.js';
import { newRise } from './rise.js';
import { tell } from './watch.js';
import { touchWatch } from './watch-state.js';

/** Work that is not meant to change the discharges: silence after it wants a look at the sensor. */
const NO_REMEDIES: readonly ActionKind[] = ['sensor-moved', 'device-swapped', 'other'];

/** Whether the action was done at the place of the sensor; `both`: both bearings. */
function isAt(end: string | null, position: string): boolean {
  return end === null || end === position || (end === 'both' && (position === 'de' || position === 'nde'));
}

/** What an action changes for the baselines of its motor: which begin anew, and which silence it explains. */
export function followAction(state: CoreState, action: MaintenanceAction): void {
  const motor = state.motors.get(action.motor);
  for (const sensor of motor?.sensors ?? []) {
    const isHere = isAt(action.end, sensor.plan.position);
    const isRemedy = !NO_REMEDIES.includes(action.action);
    const breaks = action.breaks === 'motor' || (action.breaks === 'place' && isHere);
    if (isRemedy) sensor.watch.remedyAt = Math.max(sensor.watch.remedyAt, action.at);
    if (breaks) restartWatch(state, sensor, action.at, action.action);
    if (isRemedy || breaks) touchWatch(state, sensor);
  }
}

/**
 * Maintenance that breaks comparability at `at`: what was counted before does not count any more, and alarms on the old
 * yardstick return, for they compare with what is no more. The rest of that day is not known by the hour: learning begins
 * with the hours still to come today, or with the next whole day when it is entered later.
 */
export function restartWatch(state: CoreState, sensor: SensorState, at: number, why: string): void {
  const { watch } = sensor;
  if (at <= watch.baseline.since) return;
  const hadAny = watch.days.length > 0 || watch.baseline.yardsticks.size > 0;
  watch.baseline = newBaseline(at);
  watch.days = watch.days.filter((day) => day.start >= at);
  watch.rise = newRise();
  watch.toldNoYardstick = false;
  watch.oddLooks = 0;
  watch.plainLooks = 0;
  for (const plan of state.deviationAlarms.get(sensor.key) ?? []) {
    if (plan.kind === 'silent-in-company' || plan.kind === 'background-high') continue;
    const record = state.alarms.get(plan.id);
    if (record === undefined) continue;
    record.onMs = 0;
    record.offMs = 0;
    record.returnFrom = null;
    state.out.alarms.push(record);
    if (record.active) {
      const says = `${why}: the counts before it are no yardstick any more, ${sensor.key} is learnt anew`;
      const evidence = { ...freeze(state, sensor, plan, nothingSince(at)), says };
      transition(state, record, { kind: 'return', at: Math.max(at, record.since ?? at), evidence });
    }
  }
  if (hadAny) tell(state, sensor, at, 'baseline-restarted', `${why}: learning begins anew`);
}

function nothingSince(at: number) {
  return {
    from: at - DAY_MS,
    to: at,
    pulses: 0,
    ms: 0,
    ratio: 0,
    lower: 0,
    upper: 0,
    expected: 0,
    dispersion: 1,
    confidence: 0,
    setpoint: null,
    says: '',
  };
}
