/**
 * No data is not normal. While a motor stands, its run state is not known or its sensor sends nothing, nothing can be said
 * of its rate: the alarm is held where it is, and its record says why. Rates are judged on running exposure alone, so that
 * holding needs no brake; here it is only said. Looked at with the plain conditions, every ten seconds.
 */
import type { HeldBy } from '../../shared/alarm-terms.js';
import type { AlarmRecord } from './alarm-rows.js';
import { findStretch } from './run-state.js';
import type { CoreState, SensorState } from './state.js';

/** Judged on running exposure, or (the last one) on what is counted beside it. */
const HELD_KINDS: ReadonlySet<string> = new Set([
  'rate-high',
  'rate-high-high',
  'above-baseline',
  'above-peers',
  'rising',
  'silent-in-company',
  'background-high',
]);

/** Whether the sensor has missed more readings than may get lost. */
export function sendsNothing(state: CoreState, { lastReceivedAt, downtimeMs, plan }: SensorState): boolean {
  return state.now - lastReceivedAt - downtimeMs > state.plan.gate.maxIntervalFactor * plan.intervalMs;
}

/** Why nothing can be said of a rate now; null: it can. `isBackground`: of the counts without own modulation. */
function reasonFor(state: CoreState, sensor: SensorState, isBackground: boolean): HeldBy | null {
  if (sendsNothing(state, sensor)) return 'no-readings';
  const { stretches } = sensor.motor.timeline;
  const { state: runs } = stretches[findStretch(stretches, state.now)]!;
  if (runs === 'unknown') return 'run-state-unknown';
  return runs === 'running' || isBackground ? null : 'standing';
}

/** Nothing raised and no delay under way: there is nothing to hold. */
function isIdle({ active, onMs, offMs, returnFrom }: AlarmRecord): boolean {
  return !active && onMs === 0 && offMs === 0 && returnFrom === null;
}

/** Says of every alarm on a rate whether it is held; a record is put out when that changed. */
export function holdAlarms(state: CoreState): void {
  for (const record of state.alarming.awake) {
    if (record.sensor === null || !HELD_KINDS.has(record.kind)) continue;
    if (record.heldBy === null && isIdle(record)) continue;
    const sensor = state.sensors.get(record.sensor);
    const reason =
      sensor === undefined || isIdle(record)
        ? null
        : reasonFor(state, sensor, record.kind === 'background-high');
    if (reason === record.heldBy) continue;
    record.heldBy = reason;
    state.out.alarms.push(record);
  }
}
