/** The trend of the last days, as evidence says it: like-for-like ratio of each day to the baseline. */
import { findChange } from '../../stats/change-point.js';
import { findTrend, type Trend } from '../../stats/trend.js';
import { yardstickOf } from './baseline.js';
import { DAY_MS } from './day-sums.js';
import type { SensorWatch } from './watch-state.js';

/** Days with less expected running than this tell nothing, ms. */
const DAY_MS_MIN = 1_800_000;
/** A change less sure than this is not said. */
const P_SAID = 0.05;

interface LikeDay {
  /** number of the day since the epoch, UTC */
  readonly day: number;
  readonly pulses: number;
  /** pulses that the baseline expects of the same running, above 0 */
  readonly exposure: number;
}

/** The kept days in order, in learnt bins only: what was counted and what was expected. */
function likeDays(watch: SensorWatch): LikeDay[] {
  const days: LikeDay[] = [];
  for (const { start, cells } of watch.days) {
    let pulses = 0;
    let expected = 0;
    let ms = 0;
    for (const [bin, cell] of cells) {
      const yardstick = yardstickOf(watch.baseline, bin);
      if (yardstick === null) continue;
      pulses += cell.pulses;
      expected += (cell.ms * yardstick.pulses) / yardstick.ms;
      ms += cell.ms;
    }
    if (ms >= DAY_MS_MIN && expected > 0) days.push({ day: start / DAY_MS, pulses, exposure: expected });
  }
  return days;
}

/** Growth a day of the like-for-like rate (ln) over the four weeks kept, days without pulses left out; null: fewer than four. */
export function trendOf(watch: SensorWatch): Trend | null {
  const days = likeDays(watch).filter(({ pulses }) => pulses > 0);
  return findTrend(
    days.map(({ day }) => day),
    days.map(({ pulses, exposure }) => Math.log(pulses / exposure)),
  );
}

/** "; its daily rate grows by 3.0 % a day (1.0 to 5.0) over 12 days"; '' while there are too few days. */
export function sayTrend(watch: SensorWatch): string {
  const trend = trendOf(watch);
  if (trend === null) return '';
  const percent = (slope: number): string => (100 * Math.expm1(slope)).toFixed(1);
  const range = Number.isFinite(trend.lower + trend.upper)
    ? ` (${percent(trend.lower)} to ${percent(trend.upper)})`
    : '';
  return `; over ${trend.n} days its daily rate grows by ${percent(trend.slope)} % a day${range}`;
}

/** "; most likely since 3 days (2 to 5)"; '' while the days do not show a single rise. */
export function sayOnset(watch: SensorWatch): string {
  const days = likeDays(watch);
  const change = findChange(days, null);
  if (change === null || change.p >= P_SAID || change.rateAfter <= change.rateBefore) return '';
  const newest = days[days.length - 1]!.day;
  const since = (index: number): number => newest - days[index]!.day + 1;
  return `; most likely since ${since(change.index)} days (${since(change.latest)} to ${since(change.earliest)})`;
}
