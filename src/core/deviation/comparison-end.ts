/**
 * Alarms whose yardstick is no more: they compare with something that nobody knows, so they return and say so. Nothing in it
 * says that the rate has fallen.
 */
import { transition } from '../alarm.js';
import type { DeviationKind } from '../plan.js';
import type { AlarmRecord } from '../alarm-rows.js';
import type { CoreState, SensorState } from '../state.js';
import { DAY_MS } from './day-sums.js';
import { freeze } from './evidence.js';

/** Sets the timers of a sensor's alarms of these kinds back; those that stand return at `at` (ms), with `says` as evidence. */
export function endComparisons(
  state: CoreState,
  sensor: SensorState,
  kinds: readonly DeviationKind[],
  at: number,
  says: string,
): void {
  for (const plan of state.deviationAlarms.get(sensor.key) ?? []) {
    const record = state.alarms.get(plan.id);
    if (record === undefined || !kinds.includes(plan.kind)) continue;
    resetTimers(state, record);
    if (!record.active) continue;
    const evidence = freeze(state, sensor, plan, { ...NOTHING_COMPARED, from: at - DAY_MS, to: at, says });
    transition(state, record, { kind: 'return', at: Math.max(at, record.since ?? at), evidence });
  }
}

/** What ran towards a raise or a return was measured by another yardstick. */
export function resetTimers(state: CoreState, record: AlarmRecord): void {
  if (record.onMs === 0 && record.offMs === 0 && record.returnFrom === null) return;
  record.onMs = 0;
  record.offMs = 0;
  record.returnFrom = null;
  delete record.returnBlocks;
  state.out.alarms.push(record);
}

const NOTHING_COMPARED = {
  ...{ pulses: 0, ms: 0, ratio: 0, lower: 0, upper: 0, expected: 0 },
  ...{ dispersion: null, confidence: null, setpoint: null },
};
