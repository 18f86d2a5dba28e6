/** Which alarms of a list are meant, and in which order people want to see them. */
import { ALARM_KINDS, type AlarmPriority, type AlarmStateName } from '../../shared/alarm-terms.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import { isHidden } from '../core/alarm-table.js';
import type { Plan } from '../core/plan.js';

/** What is left out does not narrow. */
export interface AlarmCriteria {
  readonly motor?: string | undefined;
  /** zone of the motor, or the one that an alarm of a zone is about */
  readonly zone?: string | undefined;
  readonly kind?: string | undefined;
  readonly priority?: AlarmPriority | undefined;
  /** `open`: all but normal */
  readonly state?: AlarmStateName | 'open' | 'all' | undefined;
}

/** In the order of `orderAlarms`. */
export function filterAlarms(
  alarms: readonly AlarmRecord[],
  { motor, zone, kind, priority, state = 'all' }: AlarmCriteria,
  plan: Pick<Plan, 'motors'>,
): AlarmRecord[] {
  const found = alarms.filter(
    (alarm) =>
      (motor === undefined || alarm.motor === motor) &&
      (zone === undefined || zoneOf(alarm, plan) === zone) &&
      (kind === undefined || alarm.kind === kind) &&
      (priority === undefined || alarm.priority === priority) &&
      (state === 'all' || (state === 'open' ? alarm.state !== 'normal' : alarm.state === state)),
  );
  return orderAlarms(found);
}

/** What stands for the motor in alarms of the gateway itself. */
const GATEWAY = 'gateway';

/**
 * The first criterion that fits nothing that there is or was: a slip of the pen, which must not pass for "none waits". Null:
 * all are known.
 */
export function findStranger(
  { motor, zone, kind }: AlarmCriteria,
  alarms: readonly AlarmRecord[],
  plan: Pick<Plan, 'motors'>,
): { readonly name: 'motor' | 'zone' | 'kind'; readonly fault: string } | null {
  const isZone = (wanted: string): boolean =>
    [...plan.motors.values()].some((planned) => planned.zone === wanted) ||
    alarms.some((alarm) => alarm.motor === `zone-${wanted}`);
  const isMotor = (wanted: string): boolean =>
    plan.motors.has(wanted) || wanted === GATEWAY || (wanted.startsWith('zone-') && isZone(wanted.slice(5)));
  if (motor !== undefined && !isMotor(motor) && alarms.every((alarm) => alarm.motor !== motor))
    return { name: 'motor', fault: `there is no motor "${motor}", and no alarm of one` };
  if (zone !== undefined && !isZone(zone))
    return { name: 'zone', fault: `there is no zone "${zone}", and no alarm of one` };
  if (kind !== undefined && !Object.hasOwn(ALARM_KINDS, kind) && alarms.every((alarm) => alarm.kind !== kind))
    return { name: 'kind', fault: `there is no kind "${kind}": ${Object.keys(ALARM_KINDS).join(', ')}` };
  return null;
}

/** null: it is of no zone that the configuration has. */
function zoneOf({ motor }: AlarmRecord, { motors }: Pick<Plan, 'motors'>): string | null {
  return motors.get(motor)?.zone ?? (motor.startsWith('zone-') ? motor.slice('zone-'.length) : null);
}

const WAITING: readonly AlarmStateName[] = [
  'unacknowledged',
  'returned-unacknowledged',
  'latched-unacknowledged',
];
const PRIORITIES: readonly AlarmPriority[] = ['high', 'medium', 'low'];

/**
 * What waits for a person first, then what stands, what another alarm stands for, what is hidden, what is normal; of these the
 * most urgent first, then the newest.
 */
function orderAlarms(alarms: readonly AlarmRecord[]): AlarmRecord[] {
  return [...alarms].sort(
    (a, b) =>
      rankOf(a) - rankOf(b) ||
      PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) ||
      (b.since ?? 0) - (a.since ?? 0) ||
      (a.id < b.id ? -1 : 1),
  );
}

function rankOf(alarm: AlarmRecord): number {
  if (isHidden(alarm)) return 3;
  if (WAITING.includes(alarm.state)) return 0;
  if (alarm.state === 'normal') return 4;
  return alarm.groupedUnder === null ? 1 : 2;
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
