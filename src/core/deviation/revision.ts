/** Late differences: what changed in an hour that the watch has taken in already. */
import type { SensorState } from '../state.js';
import { PERIOD_MS } from '../words.js';
import { reviseYardstick } from './baseline.js';
import { isComparable } from './bins.js';
import { cellOf, dayOf } from './day-sums.js';

const HOUR_MS = PERIOD_MS['1h'];

/**
 * Whether the hour is still to be taken in, with what changed in it: it is open, lies ahead, or waits for its turn. Any other
 * one is past, whether it was taken in or held nothing when it closed, as the hours of a backlog did.
 */
function isAhead({ watch, hour: open, sweptTo }: SensorState, hour: number): boolean {
  if (hour === open.start || hour + HOUR_MS > sweptTo) return true;
  return watch.unread.some((unread) => unread.hour === hour);
}

/** A late reading or run state changed an hour that is past: the difference goes to its day and its yardstick. */
export function reviseWatch(sensor: SensorState, bin: string, at: number, pulses: number, ms: number): void {
  const { watch } = sensor;
  if (!isComparable(bin)) return;
  const hour = Math.floor(at / HOUR_MS) * HOUR_MS;
  if (hour < watch.baseline.since || isAhead(sensor, hour)) return;
  const day = dayOf(watch.days, hour);
  if (day === null) return;
  const cell = cellOf(day, bin);
  cell.pulses += pulses;
  cell.ms += ms;
  watch.changed = true;
  reviseYardstick(watch.baseline, bin, hour, pulses, ms);
}
