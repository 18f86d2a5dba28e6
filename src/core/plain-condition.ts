/** A plain condition with what it looks at. */
import type { AlarmRecord } from './alarm-rows.js';
import type { ConditionAlarmPlan } from './plan.js';
import type { MotorState, SensorState } from './state.js';

export interface Condition {
  plan: ConditionAlarmPlan;
  motor: MotorState;
  sensor: SensorState | null;
  /** null: never raised, and nothing runs towards it */
  record: AlarmRecord | null;
}
