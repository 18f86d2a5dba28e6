/**
 * The height of the slow look's CUSUM that a motor which did not change climbs over once in a stated number of running
 * hours, found by simulation with an estimated yardstick and dispersion. The ideal table (Brook and Evans, Biometrika 59
 * (1972) 539-549) knows both exactly and would promise run lengths many times longer than they are.
 * Source: `npm run score -- --thresholds`, seed 1, 4,000 motors of 1,500 h each, yardsticks known to 2 and to 10 %, the worse taken.
 */

/** Run lengths of the columns, hours. */
const RUN_LENGTHS_H = [1e3, 1e4, 1e5, 1e6] as const;
/** Effective pulses of an hour (E/φ), and the heights. */
const TABLE: readonly (readonly [effective: number, heights: readonly number[]])[] = [
  [0.1, [6.8, 10.45, 14.5, 18.9]],
  [0.3, [8.3, 13.05, 18.7, 26.05]],
  [1, [8.55, 13.05, 18.25, 26.8]],
  [3, [6.45, 9.65, 14.2, 23]],
  [10, [4.05, 6.2, 9.95, 16.1]],
  [30, [2.4, 4.4, 8.35, 14.8]],
  [100, [0.85, 2.5, 4.9, 10]],
  [1000, [0, 0.1, 2.2, 4.85]],
];
/** Two full hours at least: below, one hour could decide alone. */
const HEIGHT_MIN = 4;

/** Straight line through (x0, y0), (x1, y1), at x. */
function lineAt(x: number, x0: number, y0: number, x1: number, y1: number): number {
  return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
}

/** Height of a row at a run length: straight in its logarithm, beyond the table on along the last decade. */
function heightOfRow(heights: readonly number[], runLengthH: number): number {
  const x = Math.log(runLengthH);
  let i = RUN_LENGTHS_H.length - 2;
  while (i > 0 && runLengthH < RUN_LENGTHS_H[i]!) i--;
  return lineAt(
    x,
    Math.log(RUN_LENGTHS_H[i]!),
    heights[i]!,
    Math.log(RUN_LENGTHS_H[i + 1]!),
    heights[i + 1]!,
  );
}

/** Threshold for hours of so many effective pulses, at a run length in hours (at least 1,000 is meant). */
export function riseThreshold(effective: number, runLengthH: number): number {
  const last = TABLE[TABLE.length - 1]!;
  const first = TABLE[0]!;
  const bounded = Math.min(Math.max(effective, first[0]), last[0]);
  let i = 0;
  while (i < TABLE.length - 2 && TABLE[i + 1]![0] < bounded) i++;
  const [x0, row0] = TABLE[i]!;
  const [x1, row1] = TABLE[i + 1]!;
  const height = lineAt(
    Math.log(bounded),
    Math.log(x0),
    heightOfRow(row0, runLengthH),
    Math.log(x1),
    heightOfRow(row1, runLengthH),
  );
  return Math.max(HEIGHT_MIN, height);
}
