/** The run-state strip: what the drive did over a stretch of time, as evidence shows it. */
import type { Evidence } from './alarm-rows.js';
import { DRIVES_KEPT_MS, findStretch, type Timeline } from './run-state.js';

/**
 * Stretches of the timeline that overlap [from, to), cut to it, of the hour before `now` at most: what memory holds beyond
 * depends on restarts, and what it does not hold would be shown as unknown though it is not. Empty: all lies before that hour.
 */
export function stripOf(
  { stretches }: Timeline,
  window: { readonly from: number; readonly to: number },
  now: number,
): Evidence['strip'] {
  const { to } = window;
  const from = Math.max(window.from, now - DRIVES_KEPT_MS);
  const strip: Evidence['strip'] = [];
  if (from >= to) return strip;
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
