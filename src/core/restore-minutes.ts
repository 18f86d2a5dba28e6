/**
 * The closed minutes with running exposure, taken up at start: the newest ones from the rows given, those before from the
 * rollups. A motor that runs little has the minutes that its alarms look at spread over more hours than rows reach back.
 */
import { addRowToBins } from './bin-sums.js';
import type { Restored } from './needs.js';
import type { Minute } from './periods.js';
import type { Increment } from './rows.js';
import { floorTo, type SensorState } from './state.js';
import { windowOf } from './window.js';
import { Class, PERIOD_MS } from './words.js';

/** In order, as many as are kept. The open minute of the sensor must be known; `rows`: by time, from some time on all. */
export function restoreMinutes(
  { key, minute: open, minutesKept }: SensorState,
  restored: Restored,
  rows: readonly Increment[],
): Minute[] {
  const first = rows[0];
  // rows of the minute that holds the first may be missing
  const whole = first === undefined ? Infinity : floorTo(windowOf(first), PERIOD_MS['1m']) + PERIOD_MS['1m'];
  const covered = Math.min(whole, open.start);
  const own = minutesOf(rows, covered, open.start);
  if (own.length >= minutesKept) return own.slice(-minutesKept);
  return [...restored.minutes.before(key, covered, minutesKept - own.length), ...own];
}

/** Those that start in [from, to). */
function minutesOf(rows: readonly Increment[], from: number, to: number): Minute[] {
  const minutes = new Map<number, Minute>();
  for (const row of rows) {
    if (row.class !== Class.running) continue;
    const start = floorTo(windowOf(row), PERIOD_MS['1m']);
    if (start < from || start >= to) continue;
    const minute = minutes.get(start) ?? { start, pulses: 0, ms: 0, bins: [] };
    minute.pulses += row.pulses;
    minute.ms += row.to - row.from;
    addRowToBins(minute.bins, row, 1);
    minutes.set(start, minute);
  }
  return [...minutes.values()].filter(({ ms }) => ms > 0).sort((a, b) => a.start - b.start);
}
