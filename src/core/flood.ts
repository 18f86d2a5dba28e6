/**
 * Flood: more alarms in ten minutes than an operator can answer. It is told, not acted on: nothing is hidden because of it.
 * Source: ANSI/ISA-18.2-2016 and IEC 62682: a flood begins with more than 10 alarms in 10 minutes and ends with fewer than 5.
 */
import type { JournalChange } from '../../shared/alarm-terms.js';
import type { JournalEntry } from './alarm-rows.js';
import { enter } from './journal.js';
import type { CoreState } from './state.js';

const SPAN_MS = 600_000;
const BEGINS_ABOVE = 10;
const ENDS_BELOW = 5;

/** Entries by which an activation reaches the operator; a return is told too, but asks for nothing. */
const TELLING: ReadonlySet<JournalChange> = new Set([
  'raised',
  'annunciated',
  'ungrouped',
  'unshelved',
  'shelf-expired',
  'unsuppressed',
  'returned-to-service',
]);

/** Counts what of these entries is told, once that is decided, and looks whether a flood begins or ends. */
export function countFlood(state: CoreState, news: readonly JournalEntry[]): void {
  const { alarming, now } = state;
  let found = 0;
  for (const entry of news) if (entry.annunciated && TELLING.has(entry.what)) found += 1;
  if (found === 0 && alarming.told.length === 0 && alarming.floodSince === null) return;
  const kept = alarming.told.filter((at) => at > now - SPAN_MS);
  if (found > 0 || kept.length < alarming.told.length) alarming.changed = true;
  for (let i = 0; i < found; i++) kept.push(now);
  alarming.told = kept;
  const isFlood = alarming.floodSince !== null;
  if (!isFlood && kept.length > BEGINS_ABOVE) {
    alarming.floodSince = now;
    tell(
      state,
      'flood-began',
      `${kept.length} alarms were announced within 10 min: more than a person can answer`,
    );
  } else if (isFlood && kept.length < ENDS_BELOW) {
    alarming.floodSince = null;
    tell(state, 'flood-ended', `${kept.length} alarms were announced in the last 10 min`);
  }
}

function tell(state: CoreState, what: JournalChange, text: string): void {
  state.alarming.changed = true;
  state.out.flood = { since: state.alarming.floodSince };
  enter(state, { at: state.now, kind: 'notice', subject: 'site', what, text });
}
