/**
 * Alarms of the gateway itself: it cannot store, or its clock is wrong. They cannot go through the core, which stands still
 * then; they are told at once, and journalled, raise and return, as soon as anything can be stored again.
 */
import { alarmTopic } from '../../shared/topics.js';
import { writeAlarm } from '../../shared/write-messages.js';
import { GATEWAY_ADVICE } from '../core/alarm-advice.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import { newAlarm } from '../core/alarm.js';
import { entryOf } from '../core/journal.js';
import type { HaltCause, OutMessage } from './protocol.js';

/** Why it halted, and since when (ms). */
export interface Halt {
  readonly cause: HaltCause;
  readonly reason: string;
  readonly at: number;
}

/** The alarm's record; it has none in the store. */
export function recordHalt({ cause, reason, at }: Halt, isOver: boolean): AlarmRecord {
  const plan = { id: `gateway.${cause}`, motor: 'gateway', alarm: cause, sensor: null, kind: cause };
  const quiet = newAlarm({ ...plan, priority: 'high' });
  if (isOver) return { ...quiet, since: at, note: reason };
  const standing = { active: true, acknowledged: false, state: 'unacknowledged' as const };
  return { ...quiet, ...standing, since: at, annunciatedAt: at, note: reason };
}

export function tellHalt(site: string, halt: Halt, isOver: boolean): OutMessage {
  const { cause } = halt;
  const payload = JSON.stringify(writeAlarm(recordHalt(halt, isOver), GATEWAY_ADVICE[cause]));
  return { topic: alarmTopic(site, 'gateway', cause), payload, retain: true };
}

/** Raise and return, for the journal. */
export function journalHalt(halt: Halt, overAt: number, configuration: string): JournalEntry[] {
  const entry = { kind: 'alarm' as const, subject: `gateway.${halt.cause}`, annunciated: true };
  const raise = { at: halt.at, detectedAt: halt.at, from: 'normal', to: 'unacknowledged', text: halt.reason };
  const end = {
    at: overAt,
    detectedAt: overAt,
    from: 'unacknowledged',
    to: 'normal',
    text: 'it can store again',
  };
  return [
    entryOf({ ...entry, ...raise, what: 'raised' }, configuration),
    entryOf({ ...entry, ...end, what: 'returned' }, configuration),
  ];
}
