/** What the configuration says of an alarm beside its rule: what it may come to, and what the operator is asked to do. */
import type { Plan } from './plan.js';

export interface AlarmAdvice {
  readonly consequence: string;
  readonly action: string;
}

/** Both empty for an alarm that the configuration no longer names. */
export function findAdvice(plan: Plan, id: string): AlarmAdvice {
  const named = (alarm: { readonly id: string }): boolean => alarm.id === id;
  const found =
    plan.rateAlarms.find(named) ?? plan.conditionAlarms.find(named) ?? plan.deviationAlarms.find(named);
  return { consequence: found?.consequence ?? '', action: found?.action ?? '' };
}
