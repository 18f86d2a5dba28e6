/**
 * What a CUSUM on hourly scores really does on a healthy motor: its baseline and its dispersion were estimated from some hours, and a
 * baseline that came out a little low alarms for years. Found by simulation; the ideal run length flatters.
 */
import { scoreBlock, stepCusum } from './cusum.js';
import { dispersionOfBlocks } from './dispersion.js';
import { drawCount, type Random } from './draw.js';

export interface CusumTrial {
  /** true mean of the hourly counts, and their true dispersion */
  readonly meanPerHour: number;
  readonly dispersion: number;
  /** running hours that the baseline is estimated from, ≥ 2 */
  readonly baselineHours: number;
  /** running hours watched after it, per motor */
  readonly watchedHours: number;
  readonly reference: number;
  readonly motors: number;
}

export interface FalseAlarms {
  threshold: number;
  /** per running hour, of all motors together; the sum begins at 0 again after each */
  alarmsPerHour: number;
  /** standard error of it from motor to motor */
  error: number;
  /** running hours between alarms; null: none came */
  hoursBetween: number | null;
  /** motors that alarmed at all while watched */
  share: number;
}

/**
 * Counts alarms (S > h) for each threshold on the same simulated hours: negative binomial counts, baseline and φ estimated anew for each
 * motor, φ at least 1. A baseline without pulses learns nothing: that motor never alarms.
 * Source: our simulation; the effect W. A. Jensen, L. A. Jones-Farmer, C. W. Champ and W. H. Woodall, Journal of Quality Technology 38
 * (2006) 349-364.
 */
export function countFalseAlarms(
  trial: CusumTrial,
  thresholds: readonly number[],
  random: Random,
): FalseAlarms[] {
  const sums = thresholds.map(() => ({ alarms: 0, squares: 0, motors: 0 }));
  for (let motor = 0; motor < trial.motors; motor++) {
    const baseline = Array.from({ length: trial.baselineHours }, () =>
      drawCount(random, trial.meanPerHour, trial.dispersion),
    );
    const expected = baseline.reduce((a, b) => a + b, 0) / baseline.length;
    const phi = Math.max(
      1,
      dispersionOfBlocks(
        baseline,
        baseline.map(() => 1),
      ) ?? 1,
    );
    const state = thresholds.map(() => ({ sum: 0, alarms: 0 }));
    for (let hour = 0; hour < trial.watchedHours; hour++) {
      const z = scoreBlock(drawCount(random, trial.meanPerHour, trial.dispersion), expected, phi);
      if (z === null) break;
      state.forEach((chart, i) => {
        chart.sum = stepCusum(chart.sum, z, trial.reference);
        if (chart.sum <= thresholds[i]!) return;
        chart.alarms += 1;
        chart.sum = 0;
      });
    }
    state.forEach(({ alarms }, i) => {
      sums[i]!.alarms += alarms;
      sums[i]!.squares += alarms ** 2;
      sums[i]!.motors += alarms > 0 ? 1 : 0;
    });
  }
  const { motors, watchedHours } = trial;
  return sums.map(({ alarms, squares, motors: alarmed }, i) => {
    const mean = alarms / motors;
    return {
      threshold: thresholds[i]!,
      alarmsPerHour: mean / watchedHours,
      error: Math.sqrt(Math.max(0, squares / motors - mean ** 2) / motors) / watchedHours,
      hoursBetween: alarms > 0 ? (motors * watchedHours) / alarms : null,
      share: alarmed / motors,
    };
  });
}

/** Thresholds tried: half a standard deviation apart. */
const THRESHOLDS = Array.from({ length: 100 }, (_, i) => 2 + i / 2);

/**
 * The smallest threshold (in halves, 2 … 51.5) whose simulated alarms come at most `alarmsPerHour` often, with what it does. Null: none of
 * them does; a longer baseline or a larger reference is needed. A budget far below 1 / (motors × watchedHours) cannot be seen: simulate
 * at least ten times as long.
 */
export function designThreshold(
  trial: CusumTrial,
  alarmsPerHour: number,
  random: Random,
): FalseAlarms | null {
  return (
    countFalseAlarms(trial, THRESHOLDS, random).find((found) => found.alarmsPerHour <= alarmsPerHour) ?? null
  );
}
