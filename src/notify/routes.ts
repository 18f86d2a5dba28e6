/**
 * Who is told of what, and when. Windows are read off the clock on the wall: one from 22:00 to 06:00 is open all night on
 * which the clocks change too, and one inside the hour that comes twice is open twice.
 */
import type { AlarmPriority } from '../../shared/alarm-terms.js';
import { wallTime } from './local-time.js';

/** A time of the week. `to` not after `from`: it ends on the following day, and `days` are those on which it begins. */
export interface TimeWindow {
  /** 0: Sunday */
  readonly days: readonly number[];
  /** minutes since midnight; `to` up to 1,440 and not included */
  readonly from: number;
  readonly to: number;
}

/** A list that is null takes everything. */
export interface Route {
  readonly name: string;
  readonly priorities: readonly AlarmPriority[] | null;
  readonly zones: readonly string[] | null;
  readonly motors: readonly string[] | null;
  readonly kinds: readonly string[] | null;
  /** empty: always open */
  readonly windows: readonly TimeWindow[];
  /** what comes while the route is closed: `skip` leaves it to other routes, `wait` tells it when the route opens */
  readonly outside: 'skip' | 'wait';
  /** it gets nothing but what another route escalates to it */
  readonly onlyEscalated: boolean;
  /** null: it ends here */
  readonly escalateTo: string | null;
  readonly tellReturns: boolean;
  readonly tellAcknowledgements: boolean;
  /** messages at once, and an hour in the long run */
  readonly burst: number;
  readonly messagesPerHour: number;
  /** recipients; empty: no e-mail */
  readonly email: readonly string[];
  /** name of the webhook; null: none */
  readonly webhook: string | null;
}

/** What a route can ask of an alarm. `zone` null: it belongs to none, as the alarms of the gateway itself. */
export interface AlarmTraits {
  readonly motor: string;
  readonly zone: string | null;
  readonly kind: string;
  readonly priority: AlarmPriority;
}

export function matchesRoute(route: Route, alarm: AlarmTraits): boolean {
  if (route.onlyEscalated) return false;
  if (route.priorities !== null && !route.priorities.includes(alarm.priority)) return false;
  if (route.zones !== null && (alarm.zone === null || !route.zones.includes(alarm.zone))) return false;
  if (route.motors !== null && !route.motors.includes(alarm.motor)) return false;
  return route.kinds === null || route.kinds.includes(alarm.kind);
}

/** `zone`: IANA time zone of the site. */
export function isOpen(route: Pick<Route, 'windows'>, at: number, zone: string): boolean {
  if (route.windows.length === 0) return true;
  const { day, minute } = wallTime(at, zone);
  const dayBefore = (day + 6) % 7;
  return route.windows.some(({ days, from, to }) => {
    if (from < to) return days.includes(day) && minute >= from && minute < to;
    return (days.includes(day) && minute >= from) || (days.includes(dayBefore) && minute < to);
  });
}
