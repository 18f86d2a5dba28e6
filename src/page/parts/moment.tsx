/** A point in time, and a stretch, in the site's zone; the title has them to the second. */
import { now, zone } from '../data/clock.js';
import { formatExact, formatMoment, formatPeriod, isSameDay } from '../times.js';
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

export function Period({ from, to }: { from: string; to: string }) {
  const [begin, end] = formatPeriod(Date.parse(from), Date.parse(to), today.value, zone.value);
  return (
    <>
      <time dateTime={from} title={formatExact(Date.parse(from), zone.value)}>
        {begin}
      </time>{' '}
      to{' '}
      <time dateTime={to} title={formatExact(Date.parse(to), zone.value)}>
        {end}
      </time>
    </>
  );
}
