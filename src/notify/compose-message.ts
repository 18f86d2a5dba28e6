/** From a planned message and its journal entries to what a receiver reads: the record for webhooks, the text for people. */
import type { NotifiedAlarm, NotifiedChange, Notification } from '../../shared/notification.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import type { AlarmFacts, JournalRow } from './journal-page.js';
import { writeSubject, writeText } from './message-text.js';
import type { Item, Outgoing } from './notify-state.js';

export interface ComposeParts {
  readonly site: string;
  readonly timeZone: string;
  /** entries that the items name; one that is gone leaves its place empty */
  readonly entries: ReadonlyMap<number, JournalRow>;
  facts(this: void, alarm: string): AlarmFacts;
}

const URGENCY = { high: 0, medium: 1, low: 2 } as const;
const CHANGE_ORDER: readonly NotifiedChange[] = [
  'escalated',
  'raised',
  'raised-and-returned',
  'acknowledged',
  'returned',
];

/** Ids of the entries that a message is written from. */
export function listEntryIds(message: Outgoing): number[] {
  const ids = message.items.flatMap(({ raised, returned, acknowledged }) => [raised, returned, acknowledged]);
  return [...new Set(ids.filter((id) => id !== null))].sort((a, b) => a - b);
}

export function composeMessage(message: Outgoing, parts: ComposeParts): Notification {
  const alarms = message.items.map((item) => describeItem(item, parts)).sort(byUrgency);
  return finish(message, { test: false, alarms, left_out: message.leftOut }, parts);
}

/** A message that says only that it arrives. */
export function composeTest(
  route: string,
  id: string,
  at: number,
  parts: Pick<ComposeParts, 'site' | 'timeZone'>,
): Notification {
  return finish({ id, route, at }, { test: true, alarms: [], left_out: 0 }, parts);
}

function finish(
  { id, route, at }: Pick<Outgoing, 'id' | 'route' | 'at'>,
  body: Pick<Notification, 'test' | 'alarms' | 'left_out'>,
  { site, timeZone }: Pick<ComposeParts, 'site' | 'timeZone'>,
): Notification {
  const head = { id, site, route, at: formatUtc(at) };
  const subject = writeSubject({ ...head, ...body });
  return { ...head, ...body, subject, text: writeText({ ...head, ...body }, timeZone) };
}

function byUrgency(a: NotifiedAlarm, b: NotifiedAlarm): number {
  return (
    CHANGE_ORDER.indexOf(a.change) - CHANGE_ORDER.indexOf(b.change) ||
    URGENCY[a.priority] - URGENCY[b.priority] ||
    (a.since ?? '').localeCompare(b.since ?? '') ||
    (a.id < b.id ? -1 : 1)
  );
}

function describeItem(item: Item, { entries, facts }: ComposeParts): NotifiedAlarm {
  const find = (id: number | null): JournalRow | null => (id === null ? null : (entries.get(id) ?? null));
  const raised = find(item.raised);
  const returned = find(item.returned);
  const { motor, position, kind, priority, action, consequence, cautions } = facts(item.alarm);
  return {
    ...{ id: item.alarm, motor, position, kind, priority, change: nameChange(item) },
    since: formatUtcOrNull(raised?.since ?? null),
    known_at: formatUtcOrNull(raised?.detectedAt ?? null),
    returned_at: item.returned === null ? null : formatUtcOrNull(returned?.at ?? null),
    acknowledged_by: find(item.acknowledged)?.who ?? '',
    times: item.times,
    says: (item.isNew ? raised : (returned ?? raised))?.text ?? '',
    ...{ action, consequence, cautions: [...cautions] },
  };
}

function nameChange(item: Item): NotifiedChange {
  if (item.isNew && item.returned !== null) return 'raised-and-returned';
  if (item.escalatedFrom !== null) return 'escalated';
  if (item.isNew) return 'raised';
  return item.returned !== null ? 'returned' : 'acknowledged';
}
