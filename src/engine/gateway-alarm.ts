/**
 * Alarms of the gateway itself: it cannot store, or its clock is wrong. They cannot go through the core, which stands still
 * then; they are told at once, and journalled, raise and return, as soon as anything can be stored again.
 */
import { alarmTopic } from '../../shared/topics.js';
import { writeAlarm } from '../../shared/write-messages.js';
import type { JournalEntry } from '../core/alarm-rows.js';
import { newAlarm } from '../core/alarm.js';
import { entryOf } from '../core/journal.js';
import type { HaltCause, OutMessage } from './protocol.js';

/** Why it halted, and since when (ms). */
export interface Halt {
  readonly cause: HaltCause;
  readonly reason: string;
  readonly at: number;
}

const ADVICE: Readonly<Record<HaltCause, { consequence: string; action: string }>> = {
  'storage-full': {
    consequence: 'Nothing is taken in: devices keep counting, and send again once there is room.',
    action: 'Free space on the disk that holds the data directory.',
  },
  'storage-failed': {
    consequence: 'Nothing is taken in: devices keep counting, and send again once it can be stored.',
    action: 'Look at the log and at the disk that holds the data directory.',
  },
  'clock-wrong': {
    consequence: 'Nothing is taken in: what came in could not be dated.',
    action: 'Set the clock of the gateway, or let it go on from its last time.',
  },
};

export function tellHalt(site: string, halt: Halt, isOver: boolean): OutMessage {
  const { cause } = halt;
  const record = {
    ...newAlarm({
      ...{ id: `gateway.${cause}`, motor: 'gateway', alarm: cause, sensor: null, kind: cause },
      priority: 'high',
    }),
    ...{
      active: !isOver,
      acknowledged: isOver,
      state: isOver ? ('normal' as const) : ('unacknowledged' as const),
    },
    ...{ since: halt.at, annunciatedAt: isOver ? null : halt.at, note: halt.reason },
  };
  const payload = JSON.stringify(writeAlarm(record, ADVICE[cause]));
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
