/** The alarms that the configuration names, whichever kind they are of. */
import type {
  ConditionAlarmPlan,
  DeviationAlarmPlan,
  ForwardingAlarmPlan,
  Plan,
  RateAlarmPlan,
} from './plan.js';

export type PlannedAlarm = RateAlarmPlan | ConditionAlarmPlan | DeviationAlarmPlan | ForwardingAlarmPlan;

/** Every alarm of the plan. */
export function* listPlanned(plan: Plan): Generator<PlannedAlarm> {
  yield* plan.rateAlarms;
  yield* plan.conditionAlarms;
  yield* plan.deviationAlarms;
  yield* plan.forwardingAlarms ?? [];
}

/** A plan is never changed, only replaced. */
const indexes = new WeakMap<Plan, Map<string, PlannedAlarm>>();

/** null: the configuration names no such alarm. */
export function findPlanned(plan: Plan, id: string): PlannedAlarm | null {
  let index = indexes.get(plan);
  if (index === undefined) {
    index = new Map();
    for (const alarm of listPlanned(plan)) index.set(alarm.id, alarm);
    indexes.set(plan, index);
  }
  return index.get(id) ?? null;
}

/** true: deviation alarms */
const KINDS: Readonly<Record<PlannedAlarm['kind'], boolean>> = {
  'rate-high': false,
  'rate-high-high': false,
  'above-baseline': true,
  'above-peers': true,
  rising: true,
  'silent-in-company': true,
  'background-high': true,
  'no-readings': false,
  'run-state-lost': false,
  'counter-unknown': false,
  rejecting: false,
  saturated: false,
  'clock-off': false,
  'forwarding-behind': false,
};

/** Whether the configuration can name alarms of this kind. */
export function isPlannedKind(kind: string): boolean {
  return Object.hasOwn(KINDS, kind);
}

/** Whether alarms of this kind compare with a yardstick instead of a setpoint. */
export function isDeviationKind(kind: string): boolean {
  return isPlannedKind(kind) && KINDS[kind as PlannedAlarm['kind']];
}
