/** Which alarms of a list are meant. */
import type { AlarmPriority, AlarmStateName } from '../../shared/alarm-terms.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import { isHidden } from '../core/alarm-table.js';
import type { Plan } from '../core/plan.js';

/** What is left out does not narrow. */
export interface AlarmCriteria {
  readonly motor?: string | undefined;
  /** zone of the motor */
  readonly zone?: string | undefined;
  readonly kind?: string | undefined;
  readonly priority?: AlarmPriority | undefined;
  /** `open`: all but normal */
  readonly state?: AlarmStateName | 'open' | 'all' | undefined;
}

export function filterAlarms(
  alarms: readonly AlarmRecord[],
  { motor, zone, kind, priority, state = 'all' }: AlarmCriteria,
  plan: Pick<Plan, 'motors'>,
): AlarmRecord[] {
  return alarms.filter(
    (alarm) =>
      (motor === undefined || alarm.motor === motor) &&
      (zone === undefined || plan.motors.get(alarm.motor)?.zone === zone) &&
      (kind === undefined || alarm.kind === kind) &&
      (priority === undefined || alarm.priority === priority) &&
      (state === 'all' || (state === 'open' ? alarm.state !== 'normal' : alarm.state === state)),
  );
}

/**
 * Those that wait for an acknowledgement and that the operator sees: what is hidden is acknowledged only where a state asked
 * for names it, for nobody has looked at it.
 */
export function findUnacknowledged(
  alarms: readonly AlarmRecord[],
  criteria: AlarmCriteria,
  plan: Plan,
): AlarmRecord[] {
  return filterAlarms(alarms, criteria, plan).filter(
    (alarm) => !alarm.acknowledged && (!isHidden(alarm) || alarm.state === criteria.state),
  );
}
