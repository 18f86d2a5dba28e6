/** The trend of the last days, as evidence says it: like-for-like ratio of each day to the baseline. */
import { findTrend, type Trend } from '../../stats/trend.js';
import { yardstickOf } from './baseline.js';
import { DAY_MS } from './day-sums.js';
import type { SensorWatch } from './watch-state.js';

/** Days with less expected running than this tell nothing, ms. */
const DAY_MS_MIN = 1_800_000;

/** Logarithms of the like-for-like ratios of the kept days, in order: counted over expected in learnt bins; days without pulses left out. */
function dailyLogs(watch: SensorWatch): { days: number[]; logs: number[] } {
  const days: number[] = [];
  const logs: number[] = [];
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
    if (ms < DAY_MS_MIN || !(expected > 0) || pulses <= 0) continue;
    days.push(start / DAY_MS);
    logs.push(Math.log(pulses / expected));
  }
  return { days, logs };
}

/** Growth a day of the like-for-like rate (ln) over the four weeks kept; null: fewer than four days. */
export function trendOf(watch: SensorWatch): Trend | null {
  const { days, logs } = dailyLogs(watch);
  return findTrend(days, logs);
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
