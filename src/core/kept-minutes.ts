/**
 * How many of a sensor's minutes with running exposure are kept, and looked at. The count is the same after a restart, so
 * that a restart changes no decision; what memory holds beyond it serves late readings alone.
 * Source: our choice. A window of running exposure spreads over more minutes than it is long where the motor starts often.
 */
import type { SensorKey } from './facts.js';
import type { Plan } from './plan.js';
import { PERIOD_MS } from './words.js';

/** At least so many: two hours, what late readings may still revise. */
export const MINUTES_KEPT = 120;
/** So many more are let in before the oldest are dropped together. */
export const MINUTES_SLACK = 60;

/** Sensors whose alarms judge so long a window at once that more minutes must be kept than usual. */
export function findLongKept({ rateAlarms, deviationAlarms }: Plan): Map<SensorKey, number> {
  const found = new Map<SensorKey, number>();
  for (const { sensor, windowMs, kind } of [...rateAlarms, ...deviationAlarms]) {
    if (kind !== 'rate-high' && kind !== 'rate-high-high' && kind !== 'above-baseline') continue;
    const wanted = 2 * Math.ceil(windowMs / PERIOD_MS['1m']);
    if (wanted > (found.get(sensor) ?? MINUTES_KEPT)) found.set(sensor, wanted);
  }
  return found;
}
