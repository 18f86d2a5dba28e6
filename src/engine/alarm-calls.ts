/** People act on alarms: each act is handed to the core as a fact, and answered with the record that became durable. */
import { HALT_KINDS } from '../../shared/alarm-terms.js';
import { formatUtc } from '../../shared/time.js';
import type { ActAnswer } from '../core/alarm-rows.js';
import type { AlarmAct, OperateFact } from '../core/facts.js';
import type { EntryContext } from './maintenance-calls.js';

export interface AlarmCall {
  readonly do: 'operate';
  /** ids; each is answered for itself */
  readonly alarms: readonly string[];
  readonly act: AlarmAct;
  readonly who: string;
  readonly note: string;
}

/** Alarms of a gateway that cannot store: nothing of them is in the store afterwards either. */
const OWN_ALARMS: readonly string[] = HALT_KINDS.map((kind) => `gateway.${kind}`);

/** One answer for each alarm, in the order asked; one transaction for all of them. Throws when nothing can be stored. */
export function runAlarmCall(call: AlarmCall, context: EntryContext): ActAnswer[] {
  const facts = call.alarms
    .filter((id) => !OWN_ALARMS.includes(id))
    .map((id) => toFact(id, call, context.now()));
  const answers = new Map<string, ActAnswer>();
  if (facts.length > 0) {
    context.commit(facts, [], (out) => {
      // the record goes on changing in the core
      for (const each of out.answers)
        answers.set(each.alarm, { ...each, record: each.record === null ? null : { ...each.record } });
    });
  }
  return call.alarms.map(
    (alarm) => answers.get(alarm) ?? { alarm, refusal: 'gateway-alarm' as const, record: null },
  );
}

function toFact(alarm: string, { act, who, note }: AlarmCall, receivedAt: number): OperateFact {
  return { kind: 'operate', alarm, act, who, note, says: sayAct(act, note), receivedAt };
}

/** For the journal; empty: the note says it all. */
function sayAct(act: AlarmAct, note: string): string {
  if (act.do !== 'shelve') return '';
  return `until ${formatUtc(act.until)}${act.once ? ', or its next return' : ''}: ${note}`;
}
