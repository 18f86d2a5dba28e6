/** What people do to alarms, and shelves that end by themselves. */
import { alarmOf, transition } from './alarm.js';
import type { ActInput } from './alarm-inputs.js';
import type { AlarmRecord } from './alarm-rows.js';
import type { OperateFact } from './facts.js';
import { findPlanned } from './planned-alarm.js';
import type { CoreState } from './state.js';

/** An alarm that the configuration names may be acted on before it was ever raised: shelved for planned work, say. */
export function takeAct(state: CoreState, fact: OperateFact): void {
  const { alarm, receivedAt } = fact;
  let record = state.alarms.get(alarm) ?? null;
  if (record === null) {
    const planned = findPlanned(state.plan, alarm);
    if (planned === null) {
      state.out.answers.push({ alarm, refusal: 'unknown-alarm', record: null });
      return;
    }
    record = alarmOf(state, planned);
  }
  // the tick that ends its shelf may not have come yet
  if (record.shelvedUntil !== null && record.shelvedUntil <= receivedAt) endShelf(state, record, receivedAt);
  const refusal = transition(state, record, toInput(state, fact), fact.says === '' ? undefined : fact.says);
  if (record.shelvedUntil !== null) state.shelfEndsAt = Math.min(state.shelfEndsAt, record.shelvedUntil);
  state.out.answers.push({ alarm, refusal, record });
}

function toInput(state: CoreState, { act, who, note, receivedAt: at }: OperateFact): ActInput {
  if (act.do !== 'shelve') return { kind: act.do, at, who, note };
  const { until, once } = act;
  return { kind: 'shelve', at, who, note, until, once, latest: at + state.plan.shelfMaxMs };
}

function endShelf(state: CoreState, record: AlarmRecord, knownAt: number): void {
  transition(state, record, { kind: 'expire', at: record.shelvedUntil!, knownAt });
}

/** Ends the shelves whose time has come, as they would have ended in order. An outage delays it no longer than itself. */
export function endShelves(state: CoreState): void {
  if (state.now < state.shelfEndsAt) return;
  const over = [...state.alarms.values()].filter(
    ({ shelvedUntil }) => shelvedUntil !== null && shelvedUntil <= state.now,
  );
  over.sort((a, b) => a.shelvedUntil! - b.shelvedUntil! || (a.id < b.id ? -1 : 1));
  for (const record of over) endShelf(state, record, state.now);
  findShelfEnd(state);
}

/** Notes when the next shelf ends, so that ticks before it cost nothing. */
function findShelfEnd(state: CoreState): void {
  let end = Number.MAX_SAFE_INTEGER;
  for (const { shelvedUntil } of state.alarms.values())
    if (shelvedUntil !== null) end = Math.min(end, shelvedUntil);
  state.shelfEndsAt = end;
}
