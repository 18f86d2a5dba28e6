/** Which kinds of alarm the stored past can answer for, and why not the others. */
import type {
  ConditionAlarmPlan,
  DeviationKind,
  ForwardingAlarmPlan,
  Plan,
  RateAlarmPlan,
} from '../core/plan.js';
import { listPlanned } from '../core/planned-alarm.js';

/** Why alarms on a plain condition cannot be rehearsed: what they looked at is not what is stored. */
export const NOT_REHEARSED: Readonly<
  Record<ConditionAlarmPlan['kind'] | ForwardingAlarmPlan['kind'], string>
> = {
  'no-readings':
    'it looks at when readings arrived; the store keeps when they were taken, and what came late fills the silence',
  'run-state-lost':
    'it looks at what was known of the drive at each moment; the store keeps what is known of it now',
  'counter-unknown':
    'it looks at when a counter was found to have restarted; the store keeps increments for days only, and not when each arrived',
  rejecting:
    'it looks at when implausible counts arrived; the store keeps increments for days only, and not when each arrived',
  saturated:
    'it looks at single windows of 10 s as they were swept; the store keeps increments for days only',
  'clock-off': 'it looks at the device clock against the time of arrival, which the store does not keep',
  'forwarding-behind': 'it looks at what waited for a sink at each moment; the store keeps what waits now',
};

/** What a motor counts while it runs, what is heard while it stands, and silence: alarms of one family see the same thing. */
const FAMILIES: Readonly<Record<RateAlarmPlan['kind'] | DeviationKind, string>> = {
  'rate-high': 'running',
  'rate-high-high': 'running',
  'above-baseline': 'running',
  'above-peers': 'running',
  rising: 'running',
  'background-high': 'background',
  'silent-in-company': 'silence',
};

/** Alarms of one family may stand in for one another: they are raised by the same discharges. */
export function familyOf(kind: string): string {
  return (FAMILIES as Readonly<Record<string, string>>)[kind] ?? kind;
}

/** What is the same of every alarm of a plan. */
export interface RehearsedAlarm {
  readonly id: string;
  readonly motor: string;
  readonly sensor: string | null;
  readonly kind: string;
  /** everything that the plan says of it, by name */
  readonly settings: Readonly<Record<string, unknown>>;
}

/** All alarms of a plan by id. */
export function plannedAlarms(plan: Plan): Map<string, RehearsedAlarm> {
  const found = new Map<string, RehearsedAlarm>();
  for (const alarm of listPlanned(plan)) {
    const { id, motor, sensor, kind, ...rest } = alarm;
    found.set(id, { id, motor, sensor, kind, settings: rest });
  }
  return found;
}

/** '' where the kind can be rehearsed. */
export function whyNotRehearsed(kind: string): string {
  return (NOT_REHEARSED as Readonly<Record<string, string>>)[kind] ?? '';
}
