/** Late differences: what changed in an hour that the watch has taken in already. */
import type { SensorState } from '../state.js';
import { PERIOD_MS } from '../words.js';
import { reviseYardstick } from './baseline.js';
import { isComparable } from './bins.js';
import { cellOf, dayOf } from './day-sums.js';

const HOUR_MS = PERIOD_MS['1h'];

/** A late reading or run state changed an hour that was taken in: the difference goes to its day and its yardstick. */
export function reviseWatch(sensor: SensorState, bin: string, at: number, pulses: number, ms: number): void {
  const { watch } = sensor;
  if (!isComparable(bin)) return;
  const hour = Math.floor(at / HOUR_MS) * HOUR_MS;
  if (hour >= watch.readTo || hour < watch.baseline.since) return;
  const day = dayOf(watch.days, hour);
  if (day === null) return;
  const cell = cellOf(day, bin);
  cell.pulses += pulses;
  cell.ms += ms;
  reviseYardstick(watch.baseline, bin, hour, pulses, ms);
}
