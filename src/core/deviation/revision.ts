/**
 * Late differences: what changed in an hour that is closed. The open hour's sums take their differences in themselves, so
 * what the days hold is what the rollups hold: sums of hours as they closed, and the differences after that.
 */
import type { SensorState } from '../state.js';
import { PERIOD_MS } from '../words.js';
import { partOf } from './aside.js';
import { reviseYardstick } from './baseline.js';
import { isComparable } from './bins.js';
import { cellOf, dayOf } from './day-sums.js';

const HOUR_MS = PERIOD_MS['1h'];

/** A late reading or run state changed an hour: when it is not the open one the difference goes to its day and its yardstick. */
export function reviseWatch(sensor: SensorState, bin: string, at: number, pulses: number, ms: number): void {
  const { watch } = sensor;
  if (!isComparable(bin)) return;
  const hour = Math.floor(at / HOUR_MS) * HOUR_MS;
  if (hour === sensor.hour.start) return;
  const part = partOf(watch, hour);
  const day = part === null ? null : dayOf(part.days, hour);
  if (part === null || day === null) return;
  const cell = cellOf(day, bin);
  cell.pulses += pulses;
  cell.ms += ms;
  sensor.watchChanged = true;
  reviseYardstick(part.baseline, bin, hour, pulses, ms);
}
