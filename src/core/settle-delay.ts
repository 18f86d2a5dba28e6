/** How long behind an instant it takes in ordinary operation until nobody's run state can reach back to it: DESIGN section 4. */
import type { GatePlan, MotorPlan } from './plan.js';

/** A heartbeat is taken for due a little later than it is: the way of a message, and a tick. Our choice. */
const LATE_MS = 2_000;

/** How far a coming edge may reach back: its guard, what the guard is widened by, and the merging of guards, ms. */
export function reachBackMs(gate: GatePlan, { clockErrorMs, rampMs }: MotorPlan): number {
  return gate.beforeEdgeMs + clockErrorMs + rampMs + gate.mergeMs;
}

/** At most the longest wait; 0 where nobody reports a run state. */
export function settleDelayMs(gate: GatePlan, motor: MotorPlan): number {
  if (!motor.hasRunState) return 0;
  const settleMs = motor.heartbeatMs === null ? gate.settleMs : motor.heartbeatMs + LATE_MS;
  return Math.min(settleMs + reachBackMs(gate, motor), gate.settleWaitMs);
}
