/** Which alarms of the list are wanted; the address keeps it, so that a list can be sent on. */
import type { AlarmPriority } from '../../../shared/alarm-terms.js';
import type { AlarmBody } from '../data/bodies.js';
import { isHidden, isNotice, isShown, isWaiting, nameAlarm, namePlace } from '../parts/alarm-words.js';

export const SHOWS = {
  open: 'open',
  waiting: 'waiting for an answer',
  notices: 'notices, which ask nothing',
  hidden: 'shelved, suppressed, out of service',
  all: 'all, also normal ones',
} as const;
export type Show = keyof typeof SHOWS;

export interface AlarmFilter {
  readonly show: Show;
  readonly priority: AlarmPriority | '';
  /** as it was typed: parts of what the row says, or of the id of the alarm or of the one that stands for it; empty: any */
  readonly text: string;
  /** an area; empty: any */
  readonly zone: string;
}

export function readFilter(query: URLSearchParams): AlarmFilter {
  const show = query.get('show') ?? '';
  const priority = query.get('priority') ?? '';
  return {
    show: show in SHOWS ? (show as Show) : 'open',
    priority: priority === 'low' || priority === 'medium' || priority === 'high' ? priority : '',
    text: query.get('text') ?? '',
    zone: query.get('zone') ?? '',
  };
}

const IS_SHOWN: Readonly<Record<Show, (alarm: AlarmBody) => boolean>> = {
  open: isShown,
  waiting: isWaiting,
  notices: (alarm) => isNotice(alarm) && alarm.state !== 'normal',
  hidden: isHidden,
  all: () => true,
};

/** Every word that was typed is somewhere in what the alarm is called. */
function hasText(alarm: AlarmBody, text: string): boolean {
  const names = [alarm.id, alarm.kind, alarm.grouped_under ?? '', nameAlarm(alarm), namePlace(alarm)];
  const all = names.join(' ').toLowerCase();
  return text
    .toLowerCase()
    .split(/\s+/)
    .every((word) => all.includes(word));
}

/** `zoneOf`: the area of a motor; empty for what is no motor. */
export function fitsFilter(
  alarm: AlarmBody,
  filter: AlarmFilter,
  zoneOf: (motor: string) => string,
): boolean {
  const { show, priority, text, zone } = filter;
  return (
    IS_SHOWN[show](alarm) &&
    (priority === '' || alarm.priority === priority) &&
    hasText(alarm, text) &&
    (zone === '' || zoneOf(alarm.motor) === zone)
  );
}
