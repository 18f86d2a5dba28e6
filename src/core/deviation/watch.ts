/**
 * The watch over one sensor: takes its closed hours, a few sensors a tick, so that no step takes long. First what the hour
 * says against the yardsticks that were known before it, then what it adds to them.
 */
import { enter } from '../journal.js';
import { Class, PERIOD_MS } from '../words.js';
import type { BinSum, Spread, Sums } from '../rows.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { CoreState, SensorState } from '../state.js';
import { evaluateBackground } from './background-alarm.js';
import { dropAside } from './aside.js';
import { ageYardsticks, forgetBins, learnBin, yardstickOf, type Lacking } from './baseline.js';
import { endSilence, lookAround } from './company.js';
import { isComparable, mayOccur } from './bins.js';
import { endComparisons } from './comparison-end.js';
import { addHour } from './day-sums.js';
import { takeLate, waitsForLate } from './late-hours.js';
import { evaluateRise } from './rising.js';
import { touchWatch, type LateHour, type UnreadHour } from './watch-state.js';

const HOUR_MS = PERIOD_MS['1h'];
/** Sensors whose hours are taken in per tick; the rest waits, so that live readings never do. */
const SENSORS_PER_TICK = 16;
/** Late running of less than this in an hour is left to the days: a few windows say too little to count as an hour. Our choice. */
const LATE_RUNNING_MIN_MS = 600_000;
/** Days with running after which a sensor without any yardstick is told of. */
const YARDSTICK_DAYS = 14;

/** An hour of the sensor closed: it waits for its turn. `cells`: what ran in it, by condition bin. */
export function closeWatchHour(
  state: CoreState,
  sensor: SensorState,
  hour: number,
  sums: Sums,
  cells: BinSum[],
): void {
  if (hour < sensor.watch.readTo) return;
  const pulses = sums.pulses[Class.background]!;
  const ms = sums.ms[Class.background]!;
  if (ms === 0 && sums.ms[Class.running] === 0) return;
  sensor.watch.unread.push({ hour, pulses, ms, cells });
  state.unread.add(sensor);
}

/** Takes in what waits, as far as this tick allows, and looks at the sisters when a day is over. */
export function tickWatches(state: CoreState): void {
  let left = SENSORS_PER_TICK;
  for (const sensor of state.unread) {
    if (left === 0) break;
    const { watch } = sensor;
    const late = takeLate(state, sensor);
    const ready = watch.unread.filter(({ hour }) => !waitsForLate(sensor, hour));
    if (late.length > 0 || ready.length > 0) {
      left -= 1;
      for (const hour of late) readLate(state, sensor, hour);
      for (const hour of ready) readHour(state, sensor, hour);
      watch.unread = watch.unread.filter((hour) => !ready.includes(hour));
      touchWatch(state, sensor);
    }
    if (watch.unread.length === 0 && watch.late.length === 0) state.unread.delete(sensor);
  }
  lookAround(state);
}

function planOf(
  state: CoreState,
  sensor: SensorState,
  kind: DeviationAlarmPlan['kind'],
): DeviationAlarmPlan | undefined {
  return state.deviationAlarms.get(sensor.key)?.find((plan) => plan.kind === kind);
}

/** An hour that came late, all of it: judged as it would have been when it closed. Its days have it already. */
function readLate(state: CoreState, sensor: SensorState, late: LateHour): void {
  const { hour, cells, pulses, ms } = late;
  evaluateBackground(state, sensor, planOf(state, sensor, 'background-high'), { hour, pulses, ms });
  const ran = cells.reduce((sum, cell) => sum + cell.ms, 0);
  if (ran < LATE_RUNNING_MIN_MS) return;
  judgeRunning(state, sensor, hour, cells);
}

function readHour(state: CoreState, sensor: SensorState, unread: UnreadHour): void {
  const { watch } = sensor;
  const { hour } = unread;
  if (hour < watch.readTo) return;
  watch.readTo = hour + HOUR_MS;
  dropAside(watch, state.now);
  evaluateBackground(state, sensor, planOf(state, sensor, 'background-high'), unread);
  const spreads = sensor.spreads.filter((spread) => spread.hour === hour);
  const cells = unread.cells ?? spreads.map(({ bin, pulses, ms }): BinSum => ({ bin, pulses, ms }));
  if (cells.length === 0) return;
  judgeRunning(state, sensor, hour, cells);
  if (hour < watch.baseline.since) return;
  learn(state, sensor, hour, cells, spreads);
}

/** Whether the rate has risen, and whether a silence is over. */
function judgeRunning(state: CoreState, sensor: SensorState, hour: number, cells: readonly BinSum[]): void {
  const { watch } = sensor;
  const pulses = cells.reduce((sum, cell) => sum + cell.pulses, 0);
  const rising = planOf(state, sensor, 'rising');
  if (rising !== undefined && hour >= watch.baseline.since) evaluateRise(state, sensor, rising, hour, cells);
  if (pulses <= 0) return;
  watch.countedAt = Math.max(watch.countedAt, hour + HOUR_MS);
  const silent = planOf(state, sensor, 'silent-in-company');
  if (silent !== undefined) endSilence(state, sensor, silent, pulses, hour + HOUR_MS);
}

/** Adds the hour to the days, and looks which bins have become yardsticks, and which are none any more. */
function learn(
  state: CoreState,
  sensor: SensorState,
  hour: number,
  cells: readonly BinSum[],
  spreads: readonly Spread[],
): void {
  const { watch } = sensor;
  const { baseline } = watch;
  const end = hour + HOUR_MS;
  let lacking: Lacking | null = null;
  for (const { bin, pulses, ms } of cells) {
    if (!isComparable(bin)) continue;
    const spread = spreads.find((one) => one.bin === bin) ?? null;
    addHour(watch.days, { bin, hour, pulses, ms, spread });
    const known = yardstickOf(baseline, bin);
    if (known !== null) {
      known.visitedAt = end;
      continue;
    }
    const wasUnsteady = baseline.unsteady.has(bin);
    const found = learnBin(baseline, watch.days, bin, end);
    if (found === null) {
      const { pulses, ms, days } = baseline.yardsticks.get(bin)!;
      const perMin = ((pulses / ms) * 60_000).toPrecision(3);
      tell(
        state,
        sensor,
        end,
        'baseline-learnt',
        `bin ${bin}: ${perMin} per minute from ${Math.round(ms / HOUR_MS)} h of running on ${days} days`,
      );
    } else {
      lacking = found;
      if (found.unsteady !== '' && !wasUnsteady)
        tell(
          state,
          sensor,
          end,
          'baseline-unsteady',
          `bin ${bin}: ${found.unsteady}; it is no yardstick, learning goes on`,
        );
    }
  }
  loseYardsticks(state, sensor, end, cells);
  tellMissing(state, sensor, end, lacking);
}

/** Yardsticks that age or whose bin is no more end; with the last one that could judge this hour the alarms on them return. */
function loseYardsticks(state: CoreState, sensor: SensorState, end: number, cells: readonly BinSum[]): void {
  const { baseline, days } = sensor.watch;
  const stale = ageYardsticks(baseline, state.plan.baseline, end);
  for (const bin of stale) {
    const says = `bin ${bin}: too old, or not visited for too long; it is learnt anew`;
    tell(state, sensor, end, 'baseline-stale', says);
  }
  const gone = forgetBins(baseline, days, (bin) => mayOccur(sensor.motor.group, bin), end);
  for (const bin of gone)
    tell(state, sensor, end, 'baseline-forgotten', `bin ${bin}: with other edges there is none of this name`);
  const isUsable = (bin: string): boolean => yardstickOf(baseline, bin) !== null;
  const hasAny = [...baseline.yardsticks.keys()].some(isUsable);
  const lost = [...stale, ...gone];
  if (hasAny && (lost.length === 0 || cells.some(({ bin }) => isUsable(bin)))) return;
  const why = lost.length === 0 ? '' : ` (${lost.join('; ')})`;
  const says = `${sensor.key} has no yardstick any more${why}: whether it still discharges more than it did nobody can tell, it is learnt anew`;
  endComparisons(state, sensor, ['above-baseline', 'rising'], end, says);
}

export function tell(state: CoreState, sensor: SensorState, at: number, to: string, text: string): void {
  enter(state, { at, kind: 'notice', subject: sensor.key, to, text });
}

function tellMissing(state: CoreState, sensor: SensorState, at: number, lacking: Lacking | null): void {
  const { watch } = sensor;
  if (lacking === null || watch.toldNoYardstick || watch.baseline.yardsticks.size > 0) return;
  if (watch.days.length < YARDSTICK_DAYS) return;
  watch.toldNoYardstick = true;
  tell(state, sensor, at, 'no-yardstick', `no yardstick yet: ${sayLacking(lacking)}`);
}

/** What a bin still lacks, in words. */
export function sayLacking(lacking: Lacking): string {
  const parts: string[] = [];
  if (lacking.runningMs > 0) parts.push(`${Math.ceil(lacking.runningMs / HOUR_MS)} h more of running`);
  if (lacking.days > 0) parts.push(`${lacking.days} more days`);
  if (lacking.pulses > 0) parts.push(`${lacking.pulses} more discharges`);
  if (lacking.unsteady !== '') parts.push(lacking.unsteady);
  return parts.join(', ');
}
