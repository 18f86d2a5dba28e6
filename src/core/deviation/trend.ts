/** The trend of the last days, as evidence says it: like-for-like ratio of each day to the baseline. */
import { yardstickOf } from './baseline.js';
import type { SensorWatch } from './watch-state.js';

/** Days with less expected running than this tell nothing, ms. */
const DAY_MS_MIN = 1_800_000;

/** Like-for-like ratios of the kept days, in order: counted over expected in learnt bins. */
export function dailyRatios(watch: SensorWatch): { day: number; ratio: number }[] {
  const found: { day: number; ratio: number }[] = [];
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
    if (ms >= DAY_MS_MIN && expected > 0) found.push({ day: start, ratio: pulses / expected });
  }
  return found;
}

/** Median of the slopes of all pairs, per day. Source: P. K. Sen, JASA 63 (1968) 1379-1389. */
export function medianSlope(points: readonly { day: number; ratio: number }[]): number | null {
  const slopes: number[] = [];
  for (let i = 0; i < points.length; i++) {
    for (let j = i + 1; j < points.length; j++) {
      slopes.push((points[j]!.ratio - points[i]!.ratio) / ((points[j]!.day - points[i]!.day) / 86_400_000));
    }
  }
  if (slopes.length < 3) return null;
  slopes.sort((a, b) => a - b);
  const half = slopes.length >> 1;
  return slopes.length % 2 === 1 ? slopes[half]! : (slopes[half - 1]! + slopes[half]!) / 2;
}

/** "; its daily rate changes by 3 % of the baseline a day"; '' while there are too few days. */
export function sayTrend(watch: SensorWatch): string {
  const points = dailyRatios(watch).slice(-14);
  const slope = medianSlope(points);
  if (slope === null) return '';
  return `; over the last ${points.length} days its daily rate changed by ${(100 * slope).toFixed(1)} % of the baseline a day`;
}
