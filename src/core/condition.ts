/**
 * The condition of rate alarms, minute by minute of running exposure: raise when the lower limit of the rate lies above
 * the setpoint for the on-delay, return when the upper limit over a growing window lies below setpoint − deadband for
 * the off-delay. While a motor stands nothing is learnt, so nothing moves.
 * Source: our choice; limits after Garwood 1936, widened by the dispersion of the sensor's own counts.
 */
import { rateLimits } from '../stats/poisson.js';
import { alarmOf, transition } from './alarm.js';
import { format } from './figures.js';
import type { RateAlarmPlan } from './plan.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import type { CoreState, SensorState } from './state.js';
import type { Minute } from './periods.js';
import { stripOf } from './strip.js';
import { PERIOD_MS } from './words.js';

export interface Sample {
  from: number;
  to: number;
  pulses: number;
  ms: number;
}

/** The newest minutes that together hold `windowMs` of running exposure; null: there is not that much yet. */
export function trailing(minutes: readonly Minute[], windowMs: number): Sample | null {
  let pulses = 0;
  let ms = 0;
  const newest = minutes[minutes.length - 1];
  if (newest === undefined) return null;
  for (let i = minutes.length - 1; i >= 0; i--) {
    const minute = minutes[i]!;
    pulses += minute.pulses;
    ms += minute.ms;
    if (ms >= windowMs) return { from: minute.start, to: newest.start + PERIOD_MS['1m'], pulses, ms };
  }
  return null;
}

function ratePerMin(sample: Sample): number {
  return (sample.pulses / sample.ms) * 60_000;
}

function limitsOf(sensor: SensorState, plan: RateAlarmPlan, sample: Sample) {
  return rateLimits(sample.pulses, sample.ms, {
    confidence: plan.confidence,
    dispersion: sensor.dispersion,
    deadTimeS: sensor.plan.deadTimeS,
  });
}

/** Freezes what a decision rests on. */
function evidenceOf(
  state: CoreState,
  sensor: SensorState,
  plan: RateAlarmPlan,
  sample: Sample,
  raised: boolean,
): Evidence {
  const limits = limitsOf(sensor, plan, sample)!;
  const rate = `${format(limits.ratePerMin)} per minute (${format(limits.lowerPerMin)} to ${format(limits.upperPerMin)})`;
  const exposure = `${Math.round(sample.ms / 60_000)} min of running`;
  const says = raised
    ? `${sensor.key} discharges ${rate} over ${exposure}: even the lower limit lies above the setpoint of ${format(plan.setpointPerMin)} per minute`
    : `${sensor.key} is back at ${rate} over ${exposure}: even the upper limit lies below ${format(plan.setpointPerMin - plan.deadbandPerMin)} per minute`;
  return {
    from: sample.from,
    to: sample.to,
    pulses: sample.pulses,
    exposureMs: sample.ms,
    ratePerMin: limits.ratePerMin,
    lowerPerMin: limits.lowerPerMin,
    upperPerMin: limits.upperPerMin,
    dispersion: sensor.dispersion,
    confidence: plan.confidence,
    setpointPerMin: plan.setpointPerMin,
    deadbandPerMin: plan.deadbandPerMin,
    onDelayMs: plan.onDelayMs,
    offDelayMs: plan.offDelayMs,
    strip: stripOf(sensor.motor.timeline, sample.from, sample.to),
    configuration: state.plan.revision,
    says,
  };
}

/** Cheap and never wrong: without dead time the lower limit cannot lie above a setpoint that the rate itself is below. */
function mayExceed(sensor: SensorState, plan: RateAlarmPlan, sample: Sample): boolean {
  return sensor.plan.deadTimeS > 0 || ratePerMin(sample) > plan.setpointPerMin;
}

/** Evaluates a sensor's rate alarms on its newest closed minute, which held running exposure. */
export function evaluateRateAlarms(
  state: CoreState,
  sensor: SensorState,
  plans: readonly RateAlarmPlan[] = state.rateAlarms.get(sensor.key) ?? [],
): void {
  sensor.evaluatedTo = Math.max(sensor.evaluatedTo, sensor.minutes[sensor.minutes.length - 1]?.start ?? 0);
  for (const plan of plans) {
    const record = alarmOf(state, plan);
    const newest = sensor.minutes[sensor.minutes.length - 1]!;
    const window = trailing(sensor.minutes, plan.windowMs);
    const exceeds =
      window !== null &&
      mayExceed(sensor, plan, window) &&
      limitsOf(sensor, plan, window)!.lowerPerMin > plan.setpointPerMin;
    const { onMs, offMs, returnFrom, returnMs } = record;
    if (record.active) watchReturn(state, sensor, plan, record, newest, exceeds);
    else watchRaise(state, sensor, plan, record, newest, exceeds ? window : null);
    const moved =
      record.onMs !== onMs ||
      record.offMs !== offMs ||
      record.returnFrom !== returnFrom ||
      record.returnMs !== returnMs;
    if (moved) state.out.alarms.push(record);
  }
}

function watchRaise(
  state: CoreState,
  sensor: SensorState,
  plan: RateAlarmPlan,
  record: AlarmRecord,
  newest: Minute,
  exceeding: Sample | null,
): void {
  if (exceeding === null) {
    record.onMs = 0;
    record.returnFrom = null;
    return;
  }
  if (record.returnFrom === null) {
    record.returnFrom = newest.start;
    record.onMs = 0;
  } else {
    record.onMs += newest.ms;
  }
  if (record.onMs < plan.onDelayMs) return;
  const at = newest.start + PERIOD_MS['1m'];
  record.onMs = 0;
  openReturn(record, at);
  transition(state, record, {
    kind: 'raise',
    at,
    evidence: evidenceOf(state, sensor, plan, exceeding, true),
    latching: plan.latching,
  });
}

function openReturn(record: AlarmRecord, from: number): void {
  record.returnFrom = from;
  record.returnPulses = 0;
  record.returnMs = 0;
  record.offMs = 0;
}

/**
 * The windows in which a return is looked for: the whole time since the raise (or the last exceedance), and the newest
 * 10, 20, 40, ... minutes of it, so that a long stay in the deadband does not hold up what has clearly fallen since.
 */
function findReturn(
  sensor: SensorState,
  plan: RateAlarmPlan,
  record: AlarmRecord,
  newest: Minute,
): Sample | null {
  const low = plan.setpointPerMin - plan.deadbandPerMin;
  const isBelow = (sample: Sample): boolean =>
    sample.ms > 0 && ratePerMin(sample) < low && limitsOf(sensor, plan, sample)!.upperPerMin < low;
  const from = record.returnFrom!;
  const whole = {
    from,
    to: newest.start + PERIOD_MS['1m'],
    pulses: record.returnPulses,
    ms: record.returnMs,
  };
  if (isBelow(whole)) return whole;
  for (let ms = plan.windowMs; ; ms *= 2) {
    const sample = trailing(sensor.minutes, ms);
    if (sample === null || sample.from < from) return null;
    if (isBelow(sample)) return sample;
  }
}

function watchReturn(
  state: CoreState,
  sensor: SensorState,
  plan: RateAlarmPlan,
  record: AlarmRecord,
  newest: Minute,
  exceeds: boolean,
): void {
  if (exceeds && ratePerMin({ from: 0, to: 0, ...newest }) > plan.setpointPerMin) {
    openReturn(record, newest.start + PERIOD_MS['1m']);
    return;
  }
  if (record.returnFrom === null) openReturn(record, newest.start);
  record.returnPulses += newest.pulses;
  record.returnMs += newest.ms;
  const below = findReturn(sensor, plan, record, newest);
  if (below === null) {
    record.offMs = 0;
    return;
  }
  record.offMs += newest.ms;
  if (record.offMs < plan.offDelayMs) return;
  const at = newest.start + PERIOD_MS['1m'];
  record.offMs = 0;
  record.onMs = 0;
  record.returnFrom = null;
  transition(state, record, { kind: 'return', at, evidence: evidenceOf(state, sensor, plan, below, false) });
}
