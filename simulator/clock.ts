/** A clock in the field: off from the beginning, drifting, set forward or back now and then. */
import type { Full } from './scenario-defaults.js';
import type { ClockText } from './scenario-schema.js';

const MINUTE_MS = 60_000;

/** True time to what the clock shows, whole milliseconds. `from`: beginning of the run, where drift starts. */
export function openClock(clock: Full<ClockText>, from: number): (at: number) => number {
  const { offsetMs, driftPpm, steps } = clock;
  if (offsetMs === 0 && driftPpm === 0 && steps.length === 0) return (at) => at;
  return (at) => {
    let shown = at + offsetMs + ((at - from) * driftPpm) / 1e6;
    for (const step of steps) if (at >= from + step.atMinute * MINUTE_MS) shown += step.byMs;
    return Math.round(shown);
  };
}
