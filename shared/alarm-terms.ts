/**
 * Words of the alarm list.
 * Source: terms of IEC 62682 and ISA-18.2; kinds are the gateway's own.
 */

export const ALARM_STATES = [
  'normal',
  'unacknowledged',
  'acknowledged',
  'returned-unacknowledged',
  'latched-unacknowledged',
  'latched-acknowledged',
  'shelved',
  'suppressed-by-design',
  'out-of-service',
] as const;
export type AlarmStateName = (typeof ALARM_STATES)[number];

export const ALARM_PRIORITIES = ['low', 'medium', 'high'] as const;
export type AlarmPriority = (typeof ALARM_PRIORITIES)[number];

/** What an alarm can be about, and whose it is. Receivers must bear kinds that are not listed here. */
export const ALARM_KINDS = {
  'rate-high': 'sensor',
  'rate-high-high': 'sensor',
  'above-baseline': 'sensor',
  'above-peers': 'sensor',
  rising: 'sensor',
  'background-high': 'sensor',
  'silent-in-company': 'sensor',
  'no-readings': 'sensor',
  'counter-unknown': 'sensor',
  'clock-off': 'sensor',
  saturated: 'sensor',
  rejecting: 'sensor',
  'run-state-lost': 'drive',
  'storage-full': 'gateway',
  'storage-failed': 'gateway',
  'forwarding-behind': 'gateway',
  'clock-wrong': 'gateway',
  'zone-silent': 'zone',
  'zone-drives-lost': 'zone',
  'zone-deviation': 'zone',
  'zone-burst': 'zone',
} as const satisfies Readonly<Record<string, 'sensor' | 'drive' | 'gateway' | 'zone'>>;
export type AlarmKind = keyof typeof ALARM_KINDS;

/** Kinds of a gateway that can store nothing: nobody acts on them, they end by themselves. */
export const HALT_KINDS: readonly string[] = ['storage-full', 'storage-failed', 'clock-wrong'];

/** Kinds that ask nothing of the operator: they are listed for the reliability engineer. The core keeps the same list. */
export const NOTICE_KINDS: readonly string[] = ['silent-in-company', 'zone-burst'];

/** Why nothing can be said of a condition just now. */
export const HELD_BY = ['standing', 'run-state-unknown', 'no-readings'] as const;
export type HeldBy = (typeof HELD_BY)[number];

export const JOURNAL_KINDS = ['alarm', 'operator', 'notice', 'configuration', 'gateway'] as const;
export type JournalKind = (typeof JOURNAL_KINDS)[number];

/** What an entry of the journal is about; empty where it has no word of its own. */
export const JOURNAL_CHANGES = [
  '',
  'raised',
  'returned',
  'acknowledged',
  'confirmed',
  'reset',
  'shelved',
  'unshelved',
  'shelf-expired',
  'suppressed',
  'unsuppressed',
  'taken-out-of-service',
  'returned-to-service',
  'grouped',
  'ungrouped',
  'annunciated',
  'flood-began',
  'flood-ended',
] as const;
export type JournalChange = (typeof JOURNAL_CHANGES)[number];
