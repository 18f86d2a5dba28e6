/**
 * Downtime: time in which the gateway stood counts for no silence and for no delay, for nobody listened. What a sensor or a
 * drive would have sent then it could not send here.
 * Source: our choice of how a stop is told: ticks come every second, so a first tick that comes later than ten seconds
 * after the last one of before tells that the gateway stood; a quicker restart is none.
 */
import { skipForwardingDowntime } from './forwarding.js';
import { skipGroupDowntime } from './grouping.js';
import { touch, type CoreState } from './state.js';

/** Longest pause between two ticks of a gateway that did not stand. */
const PAUSE_MS = 10_000;

/** `before`: the newest tick that was taken before the restart; the state's time is the first one after it. */
export function skipDowntime(state: CoreState, before: number): void {
  const stoodMs = state.now - before;
  if (stoodMs <= PAUSE_MS) return;
  for (const sensor of state.sensorList) {
    if (sensor.lastReceivedAt > 0 && sensor.lastReceivedAt <= before) sensor.downtimeMs += stoodMs;
    if (sensor.unknownAt > 0) sensor.unknownAt += stoodMs;
    if (sensor.rejectedAt > 0) sensor.rejectedAt += stoodMs;
    if (sensor.saturatedAt > 0) sensor.saturatedAt += stoodMs;
    touch(state, sensor);
  }
  for (const { record } of state.conditions) {
    if (record === null || record.onMs === 0) continue;
    record.onMs += stoodMs;
    state.out.alarms.push(record);
  }
  skipGroupDowntime(state, stoodMs);
  skipForwardingDowntime(state, stoodMs);
  for (const waiting of state.alarming.waiting.values()) {
    waiting.until += stoodMs;
    waiting.atMost += stoodMs;
    state.alarming.changed = true;
  }
}
