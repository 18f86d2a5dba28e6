/** Freezes what a deviation alarm was decided on: what was counted, what was expected, and the sentence that says it. */
import { format } from '../figures.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { Evidence } from '../alarm-rows.js';
import type { CoreState, SensorState } from '../state.js';
import { stripOf } from '../strip.js';

export interface Finding {
  from: number;
  to: number;
  pulses: number;
  /** exposure, ms */
  ms: number;
  /** counted over expected with limits, and what was expected; null: nothing to compare with */
  ratio: number;
  lower: number;
  upper: number;
  expected: number;
  /** null: nothing was compared */
  dispersion: number | null;
  confidence: number | null;
  /** times the expectation; null: the decision is on p, not on a setpoint */
  setpoint: number | null;
  says: string;
}

export function freeze(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  finding: Finding,
): Evidence {
  const { from, to, pulses, ms, expected } = finding;
  const expectedPerMin = ms > 0 ? (expected / ms) * 60_000 : 0;
  const setpointPerMin = finding.setpoint === null ? null : finding.setpoint * expectedPerMin;
  return {
    from,
    to,
    pulses,
    exposureMs: ms,
    ratePerMin: ms > 0 ? (pulses / ms) * 60_000 : null,
    lowerPerMin: ms > 0 ? finding.lower * expectedPerMin : null,
    upperPerMin: ms > 0 ? finding.upper * expectedPerMin : null,
    dispersion: finding.dispersion,
    confidence: finding.confidence,
    setpointPerMin,
    deadbandPerMin: setpointPerMin === null ? null : setpointPerMin * plan.deadbandShare,
    onDelayMs: plan.onDelayMs,
    offDelayMs: plan.offDelayMs,
    strip: stripOf(sensor.motor.timeline, finding, state.now),
    configuration: state.plan.revision,
    says: finding.says,
  };
}

/** "3.1 times (2.4 to 4.0) as often" */
export function sayRatio(ratio: number, lower: number, upper: number): string {
  return `${format(ratio)} times (${format(lower)} to ${format(upper)}) as often`;
}

/** Length of exposure in words. */
export function sayExposure(ms: number): string {
  const minutes = Math.round(ms / 60_000);
  return minutes < 120 ? `${minutes} min of running` : `${Math.round(minutes / 60)} h of running`;
}
