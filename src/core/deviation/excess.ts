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
import { addToBinnedBlocks, type ReturnBlock } from '../return-window.js';
import { PERIOD_MS } from '../words.js';
import { contrastOf, type Contrast } from './contrast.js';
import { freeze, sayExposure, sayRatio } from './evidence.js';
import { learntOf, learntParts, learntTrailing, type Sample } from './learnt.js';

const MONTH_MS = 30 * 86_400_000;

/** Confidence that spends the alarm's share of the budget on the windows of a month of running. */
export function confidenceOf(plan: DeviationAlarmPlan): number {
  const looks = MONTH_MS / plan.windowMs;
  return Math.max(0.95, 1 - (2 * plan.falseAlarmsPerMonth) / looks);
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
  const sample = learntTrailing(sensor, plan.windowMs);
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
  if (record.active) watchReturn(state, sensor, plan, record, newest, exceeds);
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
  record.returnBlocks = [];
  record.offMs = 0;
}

/** A record of before kept sums alone: its blocks are made of what memory still holds of its window. */
function blocksOf(sensor: SensorState, record: AlarmRecord): ReturnBlock[] {
  if (record.returnBlocks !== undefined) return record.returnBlocks;
  const blocks: ReturnBlock[] = (record.returnBlocks = []);
  for (const minute of sensor.minutes.slice(-sensor.minutesKept, -1))
    if (minute.start >= record.returnFrom!) addToBinnedBlocks(blocks, minute);
  return blocks;
}

/** The first newest part of the return window whose upper limit lies below the factor less the deadband. */
function findReturn(
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  blocks: readonly ReturnBlock[],
  to: number,
): { sample: Sample; contrast: Contrast } | null {
  const low = plan.factor * (1 - plan.deadbandShare);
  for (const sample of learntParts(sensor.watch.baseline, blocks, plan.windowMs, to)) {
    if (!(sample.pulses < low * sample.expected.pulses)) continue;
    const contrast = contrastOf(sample.pulses, sample.expected, confidenceOf(plan));
    if (contrast !== null && contrast.upper < low) return { sample, contrast };
  }
  return null;
}

function watchReturn(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  record: AlarmRecord,
  minute: Minute,
  exceeds: boolean,
): void {
  const at = minute.start + PERIOD_MS['1m'];
  const own = learntOf(sensor.watch.baseline, minute);
  if (exceeds && own.pulses > plan.factor * own.expected.pulses) {
    openReturn(record, at);
    return;
  }
  if (record.returnFrom === null) openReturn(record, minute.start);
  record.returnPulses += own.pulses;
  record.returnMs += own.ms;
  const blocks = blocksOf(sensor, record);
  addToBinnedBlocks(blocks, minute);
  const below = findReturn(sensor, plan, blocks, at);
  if (below === null) {
    record.offMs = 0;
    return;
  }
  record.offMs += minute.ms;
  if (record.offMs < plan.offDelayMs) return;
  record.offMs = 0;
  record.onMs = 0;
  record.returnFrom = null;
  delete record.returnBlocks;
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
