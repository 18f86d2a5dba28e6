/** Alarm states, priorities and what holds an alarm, in words, and what may be done in which state. */
import {
  NOTICE_KINDS,
  type AlarmPriority,
  type AlarmStateName,
  type HeldBy,
} from '../../../shared/alarm-terms.js';
import type { AlarmBody } from '../data/bodies.js';

export const STATE_WORDS: Readonly<Record<AlarmStateName, string>> = {
  normal: 'normal',
  unacknowledged: 'not acknowledged',
  acknowledged: 'acknowledged; still there',
  'returned-unacknowledged': 'not acknowledged; returned to normal',
  'latched-unacknowledged': 'not acknowledged; latched until it is reset; returned to normal',
  'latched-acknowledged': 'acknowledged; latched until it is reset; returned to normal',
  shelved: 'shelved',
  'suppressed-by-design': 'suppressed by design',
  'out-of-service': 'out of service',
};

export const PRIORITY_WORDS: Readonly<Record<AlarmPriority, string>> = {
  high: 'High',
  medium: 'Medium',
  low: 'Low',
};

export const HELD_WORDS: Readonly<Record<HeldBy, string>> = {
  standing: 'Held: the motor stands, so nothing new can be learnt.',
  'run-state-unknown': 'Held: nobody reports whether the motor runs.',
  'no-readings': 'Held: its sensor sends nothing.',
};

const WAITING: readonly AlarmStateName[] = [
  'unacknowledged',
  'returned-unacknowledged',
  'latched-unacknowledged',
];
const HIDDEN: readonly AlarmStateName[] = ['shelved', 'suppressed-by-design', 'out-of-service'];
const PRIORITIES: readonly AlarmPriority[] = ['high', 'medium', 'low'];

/** Asks for an acknowledgement. */
export function isWaiting({ state }: AlarmBody): boolean {
  return WAITING.includes(state);
}

/** Shelved, suppressed by design or out of service: it asks nobody for anything now. */
export function isHidden({ state }: AlarmBody): boolean {
  return HIDDEN.includes(state);
}

/** Asks nothing of the operator; the reliability engineer looks at it in time. */
export function isNotice({ kind }: AlarmBody): boolean {
  return NOTICE_KINDS.includes(kind);
}

/** An alarm that stands for others or for itself, and that nobody has hidden. */
export function isShown(alarm: AlarmBody): boolean {
  return alarm.state !== 'normal' && !isHidden(alarm) && !isNotice(alarm);
}

function rankOf(alarm: AlarmBody): number {
  if (isHidden(alarm)) return 3;
  if (isWaiting(alarm)) return 0;
  if (alarm.state === 'normal') return 4;
  return alarm.grouped_under === null ? 1 : 2;
}

/** Most urgent first, as the gateway orders its own list: waiting, standing, grouped, hidden; by priority; the newest first. */
export function orderAlarms(alarms: readonly AlarmBody[]): AlarmBody[] {
  return [...alarms].sort(
    (a, b) =>
      rankOf(a) - rankOf(b) ||
      PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) ||
      (b.since ?? '').localeCompare(a.since ?? '') ||
      (a.id < b.id ? -1 : 1),
  );
}

/** `rate-high` of `booster-4/de`: words for people; the id stands in the details. */
export function nameAlarm({ kind }: AlarmBody): string {
  const text = kind.replaceAll('-', ' ');
  return text.charAt(0).toUpperCase() + text.slice(1);
}

const POSITION_WORDS: Readonly<Record<string, string>> = { de: 'drive end', nde: 'non-drive end' };

/** `drive end` for `de`; other positions by their own name. */
export function namePosition(position: string): string {
  return POSITION_WORDS[position] ?? position;
}

/** `booster-4, drive end`; an alarm of a drive, a zone or the gateway has no position. */
export function namePlace({ motor, sensor }: AlarmBody): string {
  const position = sensor?.split('/')[1];
  return position === undefined ? motor : `${motor}, ${namePosition(position)}`;
}
