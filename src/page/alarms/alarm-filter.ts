/** Which alarms of the list are wanted; the address keeps it, so that a list can be sent on. */
import type { AlarmPriority } from '../../../shared/alarm-terms.js';
import type { AlarmBody } from '../data/bodies.js';
import { isHidden, isShown, isWaiting } from '../parts/alarm-words.js';

export const SHOWS = {
  open: 'open',
  waiting: 'waiting for an answer',
  hidden: 'shelved, suppressed, out of service',
  all: 'all, also normal ones',
} as const;
export type Show = keyof typeof SHOWS;

export interface AlarmFilter {
  readonly show: Show;
  readonly priority: AlarmPriority | '';
  /** part of the alarm's id, its motor or its kind; empty: any */
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
    text: (query.get('text') ?? '').trim().toLowerCase(),
    zone: query.get('zone') ?? '',
  };
}

const IS_SHOWN: Readonly<Record<Show, (alarm: AlarmBody) => boolean>> = {
  open: isShown,
  waiting: isWaiting,
  hidden: isHidden,
  all: () => true,
};

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
    (text === '' || `${alarm.id} ${alarm.kind}`.includes(text)) &&
    (zone === '' || zoneOf(alarm.motor) === zone)
  );
}
