/**
 * The fast look, `above-baseline`: each closed minute, what the last ten minutes of running brought against what the baseline
 * expects of them, bin by bin. Raise when even the lower limit lies above the factor for the on-delay; return when the upper
 * limit lies below it, over a window that grows until the question can be decided.
 * Source: DESIGN section 7. The on-delay is by default longer than the window, so that one burst, which stays in the window for its
 * whole length, cannot raise alone (our choice).
 */
import { alarmOf, transition } from '../alarm.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { AlarmRecord } from '../alarm-rows.js';
import type { CoreState, SensorState } from '../state.js';
import type { Minute } from '../periods.js';
import { PERIOD_MS } from '../words.js';
import { ALL_BIN } from '../bin-name.js';
import { addExpected, yardstickOf, type Expected } from './baseline.js';
import { contrastOf, type Contrast } from './contrast.js';
import { freeze, sayExposure, sayRatio } from './evidence.js';

const MONTH_MS = 30 * 86_400_000;

/** Counted and expected over the learnt part of some minutes. */
interface Sample {
  from: number;
  to: number;
  pulses: number;
  ms: number;
  expected: Expected;
}

/** Confidence that spends the alarm's share of the budget on the windows of a month of running. */
export function confidenceOf(plan: DeviationAlarmPlan): number {
  const looks = MONTH_MS / plan.windowMs;
  return Math.max(0.95, 1 - (2 * plan.falseAlarmsPerMonth) / looks);
}

/** Adds the learnt parts of a minute, exposure by bin; returns how much of its exposure is learnt. */
function addMinute(
  sensor: SensorState,
  sample: Sample,
  exposures: Map<string, number>,
  minute: Minute,
): void {
  const { baseline } = sensor.watch;
  let pulsesLeft = minute.pulses;
  let msLeft = minute.ms;
  for (const { bin, pulses, ms } of minute.bins) {
    pulsesLeft -= pulses;
    msLeft -= ms;
    if (yardstickOf(baseline, bin) === null) continue;
    sample.pulses += pulses;
    sample.ms += ms;
    exposures.set(bin, (exposures.get(bin) ?? 0) + ms);
  }
  if (msLeft > 0 && yardstickOf(baseline, ALL_BIN) !== null) {
    sample.pulses += pulsesLeft;
    sample.ms += msLeft;
    exposures.set(ALL_BIN, (exposures.get(ALL_BIN) ?? 0) + msLeft);
  }
}

/** The newest minutes that together hold `windowMs` of learnt exposure; null: there is not that much. */
function trailing(sensor: SensorState, windowMs: number): Sample | null {
  const { minutes } = sensor;
  const newest = minutes[minutes.length - 1]!;
  const to = newest.start + PERIOD_MS['1m'];
  const sample: Sample = { from: to, to, pulses: 0, ms: 0, expected: { pulses: 0, variance: 0, doubt: 0 } };
  const exposures = new Map<string, number>();
  for (let i = minutes.length - 1; i >= 0 && sample.ms < windowMs; i--) {
    addMinute(sensor, sample, exposures, minutes[i]!);
    sample.from = minutes[i]!.start;
  }
  if (sample.ms < windowMs) return null;
  for (const [bin, ms] of exposures)
    addExpected(sample.expected, yardstickOf(sensor.watch.baseline, bin)!, ms);
  return sample;
}

/** Evaluates the fast look on a sensor's newest closed minute, which held running exposure. */
export function evaluateExcess(
  state: CoreState,
  sensor: SensorState,
  plans: readonly DeviationAlarmPlan[] = state.deviationAlarms.get(sensor.key) ?? [],
): void {
  if (sensor.watch.baseline.yardsticks.size === 0) return;
  const plan = plans.find((one) => one.kind === 'above-baseline');
  if (plan === undefined) return;
  const sample = trailing(sensor, plan.windowMs);
  if (sample === null) return;
  const mayExceed = sample.pulses > plan.factor * sample.expected.pulses;
  const known = state.alarms.get(plan.id);
  if (!mayExceed && (known === undefined || (!known.active && known.returnFrom === null))) return;
  const record = alarmOf(state, plan);
  const contrast = contrastOf(sample.pulses, sample.expected, confidenceOf(plan));
  if (contrast === null) return;
  const exceeds = contrast.lower > plan.factor;
  const before = timers(record);
  const newest = sensor.minutes[sensor.minutes.length - 1]!;
  if (record.active) watchReturn(state, sensor, plan, record, newest, exceeds, sample);
  else watchRaise(state, sensor, plan, record, newest, exceeds ? { sample, contrast } : null);
  if (timers(record) !== before) state.out.alarms.push(record);
}

function timers(record: AlarmRecord): string {
  return `${record.onMs}/${record.offMs}/${record.returnFrom}/${record.returnMs}`;
}

function watchRaise(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  record: AlarmRecord,
  newest: Minute,
  exceeding: { sample: Sample; contrast: Contrast } | null,
): void {
  if (exceeding === null) {
    record.onMs = 0;
    record.returnFrom = null;
    return;
  }
  if (record.returnFrom === null) record.returnFrom = newest.start;
  else record.onMs += newest.ms;
  if (record.onMs < plan.onDelayMs) return;
  const at = newest.start + PERIOD_MS['1m'];
  record.onMs = 0;
  openReturn(record, at);
  transition(state, record, {
    kind: 'raise',
    at,
    evidence: evidenceOf(state, sensor, plan, exceeding.sample, exceeding.contrast, true),
    latching: plan.latching,
  });
}

function openReturn(record: AlarmRecord, from: number): void {
  record.returnFrom = from;
  record.returnPulses = 0;
  record.returnMs = 0;
  record.returnExpected = 0;
  record.offMs = 0;
}

/** The whole time since the raise, or the newest 10, 20, 40, ... minutes of it, whichever decides. */
function findReturn(
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  record: AlarmRecord,
  newest: Sample,
): { sample: Sample; contrast: Contrast } | null {
  const low = plan.factor * (1 - plan.deadbandShare);
  const judge = (sample: Sample): { sample: Sample; contrast: Contrast } | null => {
    if (!(sample.pulses < low * sample.expected.pulses)) return null;
    const contrast = contrastOf(sample.pulses, sample.expected, confidenceOf(plan));
    return contrast !== null && contrast.upper < low ? { sample, contrast } : null;
  };
  const scale = (record.returnExpected ?? 0) / newest.expected.pulses;
  const expected = {
    pulses: record.returnExpected ?? 0,
    variance: newest.expected.variance * scale,
    doubt: newest.expected.doubt * scale * scale,
  };
  const whole = judge({
    from: record.returnFrom!,
    to: newest.to,
    pulses: record.returnPulses,
    ms: record.returnMs,
    expected,
  });
  if (whole !== null) return whole;
  for (let ms = plan.windowMs; ; ms *= 2) {
    const sample = trailing(sensor, ms);
    if (sample === null || sample.from < record.returnFrom!) return null;
    const found = judge(sample);
    if (found !== null) return found;
  }
}

function watchReturn(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  record: AlarmRecord,
  minute: Minute,
  exceeds: boolean,
  sample: Sample,
): void {
  const at = minute.start + PERIOD_MS['1m'];
  const own: Sample = { ...sample, pulses: 0, ms: 0, expected: { pulses: 0, variance: 0, doubt: 0 } };
  const exposures = new Map<string, number>();
  addMinute(sensor, own, exposures, minute);
  for (const [bin, ms] of exposures) addExpected(own.expected, yardstickOf(sensor.watch.baseline, bin)!, ms);
  if (exceeds && own.pulses > plan.factor * own.expected.pulses) {
    openReturn(record, at);
    return;
  }
  if (record.returnFrom === null) openReturn(record, minute.start);
  record.returnPulses += own.pulses;
  record.returnMs += own.ms;
  record.returnExpected = (record.returnExpected ?? 0) + own.expected.pulses;
  const below = findReturn(sensor, plan, record, sample);
  if (below === null) {
    record.offMs = 0;
    return;
  }
  record.offMs += minute.ms;
  if (record.offMs < plan.offDelayMs) return;
  record.offMs = 0;
  record.onMs = 0;
  record.returnFrom = null;
  transition(state, record, {
    kind: 'return',
    at,
    evidence: evidenceOf(state, sensor, plan, below.sample, below.contrast, false),
  });
}

function evidenceOf(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  sample: Sample,
  contrast: Contrast,
  raised: boolean,
) {
  const { from, to, pulses, ms, expected } = sample;
  const said = `${sayRatio(contrast.ratio, contrast.lower, contrast.upper)} as its own baseline under like conditions, over ${sayExposure(ms)}`;
  const low = (plan.factor * (1 - plan.deadbandShare)).toFixed(1);
  return freeze(state, sensor, plan, {
    from,
    to,
    pulses,
    ms,
    ...contrast,
    expected: expected.pulses,
    dispersion: Math.max(1, expected.variance / expected.pulses),
    confidence: confidenceOf(plan),
    setpoint: plan.factor,
    says: raised
      ? `${sensor.key} discharges ${said}: even the lower limit lies above ${plan.factor.toFixed(1)} times`
      : `${sensor.key} is back at ${said}: even the upper limit lies below ${low} times`,
  });
}
