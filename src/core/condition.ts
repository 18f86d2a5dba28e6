/**
 * The condition of rate alarms, minute by minute of running exposure: raise when the lower limit of the rate lies above
 * the setpoint for the on-delay, return when the upper limit over a growing window lies below setpoint − deadband for
 * the off-delay. While a motor stands nothing is learnt, so nothing moves.
 * Source: our choice; limits after Garwood 1936, widened by the dispersion of the sensor's own counts.
 */
import { dispersionOver } from '../stats/dispersion.js';
import { rateLimits } from '../stats/poisson.js';
import { alarmOf, transition } from './alarm.js';
import { format } from './figures.js';
import type { RateAlarmPlan } from './plan.js';
import type { AlarmRecord, Evidence } from './alarm-rows.js';
import type { CoreState, SensorState } from './state.js';
import type { Minute } from './periods.js';
import { addToBlocks, partsOf } from './return-window.js';
import { stripOf } from './strip.js';
import { PERIOD_MS } from './words.js';

export interface Sample {
  from: number;
  to: number;
  pulses: number;
  ms: number;
}

/** The newest minutes that together hold `windowMs` of running exposure; null: the newest `kept` do not hold that much. */
function trailing({ minutes, minutesKept: kept }: SensorState, windowMs: number): Sample | null {
  let pulses = 0;
  let ms = 0;
  const newest = minutes[minutes.length - 1];
  if (newest === undefined) return null;
  for (let i = minutes.length - 1; i >= Math.max(0, minutes.length - kept); i--) {
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

function limitsOf(sensor: SensorState, plan: RateAlarmPlan, sample: Sample, dispersion = sensor.dispersion) {
  return rateLimits(sample.pulses, sample.ms, {
    confidence: plan.confidence,
    dispersion,
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
  dispersion = sensor.dispersion,
): Evidence {
  const limits = limitsOf(sensor, plan, sample, dispersion)!;
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
    dispersion,
    confidence: plan.confidence,
    setpointPerMin: plan.setpointPerMin,
    deadbandPerMin: plan.deadbandPerMin,
    onDelayMs: plan.onDelayMs,
    offDelayMs: plan.offDelayMs,
    strip: stripOf(sensor.motor.timeline, sample, state.now),
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
    const window = trailing(sensor, plan.windowMs);
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
  if (sensor.dispersionUncertain) delete record.raisedDispersion;
  else record.raisedDispersion = sensor.dispersion;
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
  record.returnBlocks = [];
  record.offMs = 0;
}

/**
 * The dispersion to judge a return by. That of the last 48 hours holds the step down that is looked for, and would hide it for
 * as long; so it is the one that the raise was judged by, or that of the window's own hours where that is larger.
 */
function returnDispersion(sensor: SensorState, record: AlarmRecord, from: number): number {
  const own = dispersionOver(sensor.spreads.filter(({ hour }) => hour >= from).reverse());
  const before = record.raisedDispersion ?? sensor.dispersion;
  return Math.min(sensor.dispersion, Math.max(before, own.dispersion));
}

interface Below {
  readonly sample: Sample;
  readonly dispersion: number;
}

/** The first newest part of the return window whose upper limit lies below the setpoint less the deadband. */
function findReturn(
  sensor: SensorState,
  plan: RateAlarmPlan,
  record: AlarmRecord,
  newest: Minute,
): Below | null {
  const low = plan.setpointPerMin - plan.deadbandPerMin;
  const to = newest.start + PERIOD_MS['1m'];
  for (const part of partsOf(record.returnBlocks ?? [], plan.windowMs)) {
    const sample = { ...part, to };
    if (!(ratePerMin(sample) < low)) continue;
    const dispersion = returnDispersion(sensor, record, sample.from);
    if (limitsOf(sensor, plan, sample, dispersion)!.upperPerMin < low) return { sample, dispersion };
  }
  return null;
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
  addToBlocks((record.returnBlocks ??= []), newest);
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
  delete record.returnBlocks;
  transition(state, record, {
    kind: 'return',
    at,
    evidence: evidenceOf(state, sensor, plan, below.sample, false, below.dispersion),
  });
}
