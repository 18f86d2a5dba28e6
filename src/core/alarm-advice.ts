/** What the configuration says of an alarm beside its rule: what it may come to, and what the operator is asked to do. */
import { findPlanned } from './planned-alarm.js';
import type { Plan } from './plan.js';

export interface AlarmAdvice {
  readonly consequence: string;
  readonly action: string;
}

/** Alarms of the gateway itself, by kind. */
export const GATEWAY_ADVICE = {
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
} as const satisfies Readonly<Record<string, AlarmAdvice>>;

/** Both empty for an alarm that the configuration no longer names. */
export function findAdvice(plan: Plan, id: string): AlarmAdvice {
  const own = id.startsWith('gateway.') ? id.slice('gateway.'.length) : '';
  if (Object.hasOwn(GATEWAY_ADVICE, own)) return GATEWAY_ADVICE[own as keyof typeof GATEWAY_ADVICE];
  const found = findPlanned(plan, id);
  return { consequence: found?.consequence ?? '', action: found?.action ?? '' };
}
