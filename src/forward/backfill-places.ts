/** Where a backfill goes after doubt: stretches of single streams, instead of all streams from one time to another. */
import { OUTBOX_STREAMS } from '../store/outbox-streams.js';
import type { Stretch } from './sink.js';
import { joinSpans, type Span } from './spans.js';

/** `from` inclusive, `to` exclusive, ms; `code`: stream of the outbox */
export interface Place {
  readonly code: number;
  readonly from: number;
  readonly to: number;
}

/** Of one stream; more are drawn together. Our choice: all of them are some 30 kB. */
const PLACES_MOST = 100;

/** In the order in which streams are sent, each by time. `ofSink`: the streams that it gets; others are left out. */
export function joinAfterDoubt(
  old: readonly Place[],
  stretches: readonly Stretch[],
  ofSink: readonly number[],
): Place[] {
  return OUTBOX_STREAMS.filter(({ code }) => ofSink.includes(code)).flatMap(({ code, stream, period }) => {
    const spans: Span[] = old.filter((place) => place.code === code).map(({ from, to }) => [from, to]);
    for (const one of stretches)
      if (one.stream === stream && one.period === period)
        // a transient is found by what it overlaps, and one without length overlaps nothing that begins with it
        spans.push([stream === 'transients' ? one.from - 1 : one.from, one.to]);
    return joinSpans(spans, PLACES_MOST).map(([from, to]) => ({ code, from, to }));
  });
}
