/** Several alarms in one number: which of them asks most of an operator. Source: our choice, in the spirit of IEC 62682. */
import { ALARM_STATES, type AlarmStateName } from '../../shared/alarm-terms.js';
import type { AlarmView } from './picture.js';

/** Most urgent first: what stands and nobody has seen, what nobody has seen, what stands, what is put aside. */
const URGENCY: readonly AlarmStateName[] = [
  'unacknowledged',
  'latched-unacknowledged',
  'returned-unacknowledged',
  'acknowledged',
  'latched-acknowledged',
  'shelved',
  'suppressed-by-design',
  'out-of-service',
  'normal',
];
/** States in which an operator sees the alarm and its condition stands or stood. */
const SHOWN: readonly AlarmStateName[] = URGENCY.slice(0, 5);
export const PRIORITY_NUMBERS = { low: 1, medium: 2, high: 3 } as const;

/** Number of a state: its place in the contract's list, which only ever grows at its end. */
export function numberState(state: AlarmStateName): number {
  return ALARM_STATES.indexOf(state);
}

/** An alarm that was never raised is normal. A notice asks nothing of the operator and is no alarm. */
export function stateOf({ news }: AlarmView): AlarmStateName {
  return news?.state ?? 'normal';
}

export interface AlarmSummary {
  readonly state: AlarmStateName;
  /** highest priority among those that are shown; 0: none is */
  readonly priority: number;
  readonly active: number;
  readonly unacknowledged: number;
}

/** `active` and `unacknowledged` count what is shown: not what is shelved, suppressed or out of service. */
export function summariseAlarms(alarms: readonly AlarmView[]): AlarmSummary {
  const counted = alarms.filter(({ planned }) => planned.kind !== 'silent-in-company');
  const shown = counted.filter((alarm) => SHOWN.includes(stateOf(alarm)));
  const ranks = counted.map((alarm) => URGENCY.indexOf(stateOf(alarm)));
  return {
    state: URGENCY[Math.min(...ranks, URGENCY.length - 1)]!,
    priority: Math.max(0, ...shown.map(({ planned }) => PRIORITY_NUMBERS[planned.priority])),
    active: shown.filter(({ news }) => news?.active === true).length,
    unacknowledged: shown.filter(({ news }) => news?.acknowledged === false).length,
  };
}
