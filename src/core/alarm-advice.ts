/** What the configuration says of an alarm beside its rule: why it is there, what it may come to, what the operator is asked to do. */
import { adviseGroup } from './causes.js';
import type { AlarmAdvice, Plan } from './plan.js';
import { findPlanned } from './planned-alarm.js';
import { ZONE_BURST_ADVICE } from './zone-burst.js';

const NOTHING: AlarmAdvice = { consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null };

const OWN = { class: 'gateway', timeToRespondMs: 3_600_000 } as const;

/** Alarms of the gateway itself, by kind. */
export const GATEWAY_ADVICE = {
  'storage-full': {
    consequence: 'Nothing is taken in: devices keep counting, and send again once there is room.',
    action: 'Free space on the disk that holds the data directory.',
    rationale:
      'What cannot be stored is not acknowledged, and a device holds it only as long as its memory lasts.',
    ...OWN,
  },
  'storage-failed': {
    consequence: 'Nothing is taken in: devices keep counting, and send again once it can be stored.',
    action: 'Look at the log and at the disk that holds the data directory.',
    rationale:
      'What cannot be stored is not acknowledged, and a device holds it only as long as its memory lasts.',
    ...OWN,
  },
  'clock-wrong': {
    consequence: 'Nothing is taken in: what came in could not be dated.',
    action: 'Set the clock of the gateway, or let it go on from its last time: page Gateway, part Clock.',
    rationale: 'A clock that went back would date new readings before old ones.',
    ...OWN,
  },
} as const satisfies Readonly<Record<string, AlarmAdvice>>;

/** Nothing for an alarm that neither the configuration nor the program names. */
export function findAdvice(plan: Plan, id: string): AlarmAdvice {
  const own = id.startsWith('gateway.') ? id.slice('gateway.'.length) : '';
  if (Object.hasOwn(GATEWAY_ADVICE, own)) return GATEWAY_ADVICE[own as keyof typeof GATEWAY_ADVICE];
  const found = findPlanned(plan, id);
  if (found === null)
    return adviseGroup(plan, id) ?? (id.endsWith('.zone-burst') ? ZONE_BURST_ADVICE : NOTHING);
  const { consequence, action, rationale, timeToRespondMs } = found;
  return { consequence, action, rationale, class: found.class, timeToRespondMs };
}
