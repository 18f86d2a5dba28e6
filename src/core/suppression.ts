/**
 * Suppressed by design: logic of the configuration that hides alarms which could only mislead. What goes on underneath goes
 * on, and is shown once no rule applies any more.
 * Source: IEC 62682 / ISA-18.2 (suppressed by design) for the idea; which rules there are is our choice.
 */
import { alarmOf, transition } from './alarm.js';
import { isDeviationKind, isPlannedKind, listPlanned, type PlannedAlarm } from './planned-alarm.js';
import type { CoreState } from './state.js';

const NEVER = Number.MAX_SAFE_INTEGER;

/** What a rule looks at: an alarm that the plan names, or one that only its record remembers. */
interface Judged {
  readonly motor: string;
  readonly kind: string;
  readonly isNamed: boolean;
}

interface Rule {
  /** in words, as people read it */
  readonly name: string;
  applies(state: CoreState, alarm: Judged): boolean;
  /** the first tick at which the answer for any alarm may change; a reload asks anew anyway */
  changesAt(state: CoreState): number;
}

/** Counts of a motor that is being set up compare with nothing: not with its past, nor with its sisters. */
const COMMISSIONING: Rule = {
  name: 'its motor is in commissioning',
  applies: ({ now, motors }, { motor, kind }) => {
    const commissioning = motors.get(motor)?.plan.commissioning;
    if (commissioning === undefined || !isDeviationKind(kind)) return false;
    return commissioning.until === null || commissioning.until > now;
  },
  changesAt: ({ now, motorList }) => {
    const ends = motorList.map(({ plan }) => plan.commissioning?.until ?? NEVER);
    return Math.min(NEVER, ...ends.filter((end) => end > now));
  },
};

/** Nothing looks at its condition any more, so it could stand for ever. */
const NOT_CONFIGURED: Rule = {
  name: 'the configuration no longer names it',
  applies: (_, { kind, isNamed }) => !isNamed && isPlannedKind(kind),
  changesAt: () => NEVER,
};

const RULES: readonly Rule[] = [COMMISSIONING, NOT_CONFIGURED];

/** Suppresses and unsuppresses what the rules say, at the first tick after each opening and whenever a rule may change. */
export function judgeSuppression(state: CoreState): void {
  if (state.now < state.suppressionAt) return;
  const named = new Set<string>();
  for (const alarm of listPlanned(state.plan)) {
    named.add(alarm.id);
    followPriority(state, alarm);
    judge(state, alarm, true);
  }
  for (const record of [...state.alarms.values()]) if (!named.has(record.id)) judge(state, record, false);
  state.suppressionAt = Math.min(...RULES.map((rule) => rule.changesAt(state)));
}

/** A record keeps the priority that it was made with, and the configuration may have changed since. */
function followPriority(state: CoreState, { id, priority }: PlannedAlarm): void {
  const record = state.alarms.get(id);
  if (record === undefined || record.priority === priority) return;
  record.priority = priority;
  state.out.alarms.push(record);
}

function judge(state: CoreState, alarm: Parameters<typeof alarmOf>[1], isNamed: boolean): void {
  const rule = RULES.find((each) => each.applies(state, { ...alarm, isNamed }));
  if (rule !== undefined) {
    transition(state, alarmOf(state, alarm), { kind: 'suppress', at: state.now, rule: rule.name });
    return;
  }
  const record = state.alarms.get(alarm.id);
  if (record !== undefined && record.suppressedBy !== null)
    transition(state, record, { kind: 'unsuppress', at: state.now });
}
