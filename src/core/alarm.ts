/**
 * The alarm's record and its transitions. Condition, acknowledgement and suppression are kept apart; one function
 * derives the state shown.
 * Source: IEC 62682 / ISA-18.2 and OPC 10000-9 for the terms; which transitions exist is our choice within them.
 */
import type { JournalChange } from '../../shared/alarm-terms.js';
import type { AlarmRecord, AlarmState, Evidence } from './alarm-rows.js';
import { enter } from './journal.js';
import { diagnose, type CoreState } from './state.js';

/** The state shown. Out of service hides shelved, which hides suppressed; what happens underneath goes on. */
export function deriveState(record: AlarmRecord): AlarmState {
  if (record.outOfService) return 'out-of-service';
  if (record.shelvedUntil !== null) return 'shelved';
  if (record.suppressedBy !== null) return 'suppressed-by-design';
  if (record.active) return record.acknowledged ? 'acknowledged' : 'unacknowledged';
  if (record.latched) return record.acknowledged ? 'latched-acknowledged' : 'latched-unacknowledged';
  return record.acknowledged ? 'normal' : 'returned-unacknowledged';
}

/** Of an alarm that was never raised and that nobody has touched. */
const QUIET = {
  active: false,
  acknowledged: true,
  latched: false,
  acknowledgedBy: '',
  note: '',
  confirmed: true,
  confirmedBy: '',
  shelvedUntil: null,
  shelvedOnce: false,
  shelvedBy: '',
  shelvedWhy: '',
  suppressedBy: null,
  outOfService: false,
  outOfServiceBy: '',
  outOfServiceWhy: '',
  heldBy: null,
  groupedUnder: null,
  annunciatedAt: null,
  state: 'normal',
  since: null,
  onMs: 0,
  offMs: 0,
  returnFrom: null,
  returnPulses: 0,
  returnMs: 0,
  evidence: null,
} as const satisfies Partial<AlarmRecord>;

export function newAlarm(plan: {
  id: string;
  motor: string;
  alarm: string;
  sensor: string | null;
  kind: string;
  priority: AlarmRecord['priority'];
}): AlarmRecord {
  return {
    ...QUIET,
    id: plan.id,
    motor: plan.motor,
    alarm: plan.alarm,
    sensor: plan.sensor,
    kind: plan.kind,
    priority: plan.priority,
  };
}

/** A record that an older program wrote, with what it did not know yet. */
export function completeAlarm(kept: Partial<AlarmRecord> & Parameters<typeof newAlarm>[0]): AlarmRecord {
  return { ...QUIET, ...kept };
}

/** The alarm's record, made when there is none yet. */
export function alarmOf(state: CoreState, plan: Parameters<typeof newAlarm>[0]): AlarmRecord {
  let record = state.alarms.get(plan.id);
  if (record === undefined) {
    record = newAlarm(plan);
    state.alarms.set(plan.id, record);
  }
  return record;
}

/** What moves an alarm. */
export type AlarmInput =
  /** `notice`: it asks nothing of the operator, so nothing waits for an acknowledgement */
  | { kind: 'raise'; at: number; evidence: Evidence; latching: boolean; notice?: boolean }
  | { kind: 'return'; at: number; evidence: Evidence }
  | { kind: 'acknowledge'; at: number; who: string; note: string }
  | { kind: 'reset'; at: number; who: string; note: string };

/** Applies one input; true when the record changed. An input that does not apply changes nothing. */
export function moveAlarm(record: AlarmRecord, input: AlarmInput): boolean {
  switch (input.kind) {
    case 'raise':
      if (record.active) return false;
      record.active = true;
      record.acknowledged = input.notice === true;
      record.latched = input.latching;
      record.since = input.at;
      record.annunciatedAt = input.notice === true ? null : input.at;
      record.evidence = input.evidence;
      record.acknowledgedBy = '';
      record.note = '';
      break;
    case 'return':
      if (!record.active) return false;
      record.active = false;
      record.since = input.at;
      record.evidence = input.evidence;
      break;
    case 'acknowledge':
      if (record.acknowledged) return false;
      record.acknowledged = true;
      record.acknowledgedBy = input.who;
      record.note = input.note;
      break;
    case 'reset':
      if (record.active || !record.latched || !record.acknowledged) return false;
      record.latched = false;
      record.note = input.note;
      break;
  }
  record.state = deriveState(record);
  return true;
}

const CHANGES: Readonly<Record<AlarmInput['kind'], JournalChange>> = {
  raise: 'raised',
  return: 'returned',
  acknowledge: 'acknowledged',
  reset: 'reset',
};

/** Moves an alarm and journals it. `who` is empty where the gateway itself did. */
export function transition(state: CoreState, record: AlarmRecord, input: AlarmInput): boolean {
  const before = record.state;
  if (!moveAlarm(record, input)) {
    if (input.kind === 'acknowledge' || input.kind === 'reset') {
      diagnose(state, record.id, `${input.kind}-without-effect`, input.at, `the alarm is ${before}`);
    }
    return false;
  }
  const isNotice = record.kind === 'silent-in-company';
  const byPerson = input.kind === 'acknowledge' || input.kind === 'reset';
  state.out.alarms.push(record);
  enter(state, {
    at: input.at,
    kind: byPerson ? 'operator' : isNotice ? 'notice' : 'alarm',
    subject: record.id,
    from: before,
    to: record.state,
    who: byPerson ? input.who : '',
    text: byPerson ? input.note : input.evidence.says,
    what: CHANGES[input.kind],
    annunciated: !byPerson && !isNotice,
    evidence: byPerson ? null : input.evidence,
  });
  return true;
}
