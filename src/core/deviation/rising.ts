/**
 * `rising`: the slow look, hour by hour. Raise when the CUSUM climbs over the height that the false-alarm budget allows and the
 * excursion, taken together, lies above the baseline by its limits too; return when the last day, or days, lie below
 * the ratio that is let pass.
 */
import { alarmOf, transition } from '../alarm.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { CoreState, SensorState } from '../state.js';
import { addExpected, yardstickOf, type Expected } from './baseline.js';
import { contrastOf, type Contrast } from './contrast.js';
import { DAY_MS } from './day-sums.js';
import { freeze, sayExposure, sayRatio } from './evidence.js';
import { addRiseHour, effectivePulses, newRise, RATIO_PASSED } from './rise.js';
import { riseThreshold } from './rise-threshold.js';
import { sayOnset, sayTrend } from './trend.js';

/** Hours of a month of 30 days that runs throughout. */
const MONTH_H = 720;
/** Least confidence of the limits of an excursion and of a return: the budget is spent by the height, these only confirm. */
const CONFIDENCE = 0.999;

/** Running of one closed hour, by bin. */
export interface RunningCell {
  bin: string;
  pulses: number;
  ms: number;
}

/** What the baseline expects of some cells, and what was counted in those that it knows. */
export function expectCells(
  sensor: SensorState,
  cells: readonly RunningCell[],
): { pulses: number; ms: number; expected: Expected; widen: number } {
  const expected: Expected = { pulses: 0, variance: 0, doubt: 0 };
  let counted = 0;
  let known = 0;
  let widen = 1;
  for (const { bin, pulses, ms } of cells) {
    const yardstick = yardstickOf(sensor.watch.baseline, bin);
    if (yardstick === null || ms <= 0) continue;
    addExpected(expected, yardstick, ms);
    counted += pulses;
    known += ms;
    widen = Math.max(widen, yardstick.dayDispersion / yardstick.dispersion);
  }
  return { pulses: counted, ms: known, expected, widen };
}

/** Takes a closed hour and decides. */
export function evaluateRise(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  hour: number,
  cells: readonly RunningCell[],
): void {
  const { rise } = sensor.watch;
  const found = expectCells(sensor, cells);
  if (!(found.expected.pulses > 0)) return;
  addRiseHour(rise, hour, found.pulses, found.ms, found.expected);
  const record = alarmOf(state, plan);
  if (record.active) {
    watchReturn(state, sensor, plan, hour);
    return;
  }
  if (rise.from === null) return;
  const effective = effectivePulses(rise.expected) / rise.hours;
  if (rise.height <= riseThreshold(effective, MONTH_H / plan.falseAlarmsPerMonth)) return;
  const widened = { ...rise.expected, variance: rise.expected.variance * found.widen };
  const contrast = contrastOf(rise.pulses, widened, CONFIDENCE);
  if (contrast === null || contrast.lower <= 1) return;
  record.returnFrom = hour;
  const says = `${sensor.key} has risen: it discharges ${sayRatio(contrast.ratio, contrast.lower, contrast.upper)} as its own baseline under like conditions, over ${sayExposure(rise.ms)}`;
  transition(state, record, {
    kind: 'raise',
    at: hour + 3_600_000,
    latching: plan.latching,
    evidence: freeze(state, sensor, plan, {
      from: rise.from,
      // a late hour completes what newer ones began
      to: Math.max(hour + 3_600_000, sensor.watch.readTo),
      pulses: rise.pulses,
      ms: rise.ms,
      ...contrast,
      expected: rise.expected.pulses,
      dispersion: widened.variance / widened.pulses,
      confidence: CONFIDENCE,
      setpoint: 1,
      says: says + sayOnset(sensor.watch) + sayTrend(sensor.watch),
    }),
  });
}

/** The newest 1, 2, 4, ... days since the raise: the first that shows the rate under what is let pass. */
function watchReturn(state: CoreState, sensor: SensorState, plan: DeviationAlarmPlan, hour: number): void {
  const record = alarmOf(state, plan);
  const { days, rise } = sensor.watch;
  const since = Math.max(record.returnFrom ?? 0, record.since ?? 0);
  for (let length = 1; length <= 16; length *= 2) {
    const from = Math.floor(hour / DAY_MS) * DAY_MS - (length - 1) * DAY_MS;
    if (from < since) return;
    const cells = days
      .filter((day) => day.start >= from)
      .flatMap((day) => [...day.cells].map(([bin, { pulses, ms }]) => ({ bin, pulses, ms })));
    const found = expectCells(sensor, cells);
    const widened = { ...found.expected, variance: found.expected.variance * found.widen };
    const contrast = contrastOf(found.pulses, widened, CONFIDENCE);
    if (contrast === null || contrast.upper >= RATIO_PASSED) continue;
    Object.assign(rise, newRise());
    giveBack(state, sensor, plan, { from, to: hour + 3_600_000, ...found, contrast });
    return;
  }
}

function giveBack(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan,
  found: { from: number; to: number; pulses: number; ms: number; expected: Expected; contrast: Contrast },
): void {
  const { from, to, pulses, ms, expected, contrast } = found;
  const record = alarmOf(state, plan);
  record.returnFrom = null;
  transition(state, record, {
    kind: 'return',
    at: to,
    evidence: freeze(state, sensor, plan, {
      from,
      to,
      pulses,
      ms,
      ...contrast,
      expected: expected.pulses,
      dispersion: expected.variance / expected.pulses,
      confidence: CONFIDENCE,
      setpoint: RATIO_PASSED,
      says: `${sensor.key} is back: it discharges ${sayRatio(contrast.ratio, contrast.lower, contrast.upper)} as its own baseline under like conditions, over ${sayExposure(ms)}`,
    }),
  });
}
