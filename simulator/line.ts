/** When a client's connection comes and goes, and when the broker speaks its will. */
import type { Interval } from './happenings.js';

export interface LineEvent {
  readonly at: number;
  readonly kind: 'connect' | 'disconnect' | 'will';
}

/** Keep-alive of 10 s: a broker gives a silent client one and a half times that (MQTT 3.1.1, 3.1.2.10). */
export const WILL_AFTER_MS = 15_000;

/** `down`: ascending, apart. A line that comes back before the will is due leaves no will. */
export function openLine(down: readonly Interval[], span: Interval): LineEvent[] {
  const events: LineEvent[] = [];
  if (down[0] === undefined || down[0].from > span.from) events.push({ at: span.from, kind: 'connect' });
  for (const { from, to } of down) {
    if (from > span.from) events.push({ at: from, kind: 'disconnect' });
    if (to - from > WILL_AFTER_MS) events.push({ at: from + WILL_AFTER_MS, kind: 'will' });
    events.push({ at: to, kind: 'connect' });
  }
  return events.filter(({ at }) => at < span.to);
}
