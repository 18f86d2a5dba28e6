/** The run-state strip: what the drive did over a stretch of time, as evidence shows it. */
import type { Evidence } from './alarm-rows.js';
import { findStretch, type Timeline } from './run-state.js';

/** Stretches of the timeline that overlap [from, to), cut to it. */
export function stripOf({ stretches }: Timeline, from: number, to: number): Evidence['strip'] {
  const strip: Evidence['strip'] = [];
  for (let i = findStretch(stretches, from); i < stretches.length && stretches[i]!.from < to; i++) {
    const stretch = stretches[i]!;
    strip.push({
      from: Math.max(stretch.from, from),
      to: Math.min(stretch.to, to),
      state: stretch.state,
      modulating: stretch.modulating,
    });
  }
  return strip;
}
