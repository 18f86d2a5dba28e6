/** A point in time in the site's zone; the title has it to the second. */
import { now, zone } from '../data/clock.js';
import { formatExact, formatMoment, isSameDay } from '../times.js';
import { computed } from '@preact/signals';

/** The day only, so that a moment is not drawn anew each second. */
const today = computed(() => Math.floor(now.value / 60_000) * 60_000);

export function Moment({ at }: { at: string }) {
  const ms = Date.parse(at);
  return (
    <time
      dateTime={at}
      title={formatExact(ms, zone.value)}
      data-today={isSameDay(ms, today.value, zone.value)}
    >
      {formatMoment(ms, today.value, zone.value)}
    </time>
  );
}
