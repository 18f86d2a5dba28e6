/**
 * Whether a learning period is steady enough to become the yardstick. A period with a step, a trend or far more scatter from
 * day to day than its own counts explain would hide what it should show, so it says so and learning goes on.
 * Source: Pearson statistic of daily sums (McCullagh and Nelder 1989, chapter 6); best split of the days after D. V. Hinkley,
 * Biometrika 57 (1970) 1-17, with counts scaled by their dispersion. Thresholds are our choice: chance alone, and changes
 * too small to matter, must not hold up learning.
 */
import { gammaQ } from '../../stats/gamma.js';

/** One day of one bin. */
export interface DayCount {
  start: number;
  pulses: number;
  ms: number;
}

export interface Steadiness {
  /** '' : steady */
  reason: string;
  /** Pearson dispersion of the daily sums, never below 1 */
  dayDispersion: number;
}

/** Days shorter than this are added to their follower before they are compared. */
const SHORT_MS = 1_800_000;
const SCATTER_TAIL = 1e-4;
const SCATTER_SHARE = 0.25;
const SPLIT_RATIO = 1.35;
const SPLIT_DEVIATIONS = 4;
/** Days that a side of a split needs. */
const SIDE_DAYS = 2;

/** `days` in order; `dispersion`: of blocks within the days, φ ≥ 1. Fewer than 3 days: steady, nothing can be said. */
export function judgeSteadiness(days: readonly DayCount[], dispersion: number): Steadiness {
  const usable = joinShort(days);
  const pulses = usable.reduce((sum, day) => sum + day.pulses, 0);
  const ms = usable.reduce((sum, day) => sum + day.ms, 0);
  if (usable.length < 3 || pulses === 0 || ms === 0) return { reason: '', dayDispersion: 1 };
  const rate = pulses / ms;
  let chiSquare = 0;
  for (const day of usable) chiSquare += (day.pulses - rate * day.ms) ** 2 / (rate * day.ms);
  const freedom = usable.length - 1;
  const dayDispersion = Math.max(1, chiSquare / freedom);
  const split = bestSplit(usable, Math.max(dispersion, 1));
  if (split !== null) {
    const word = split.ratio > 1 ? 'rises' : 'falls';
    const size = split.ratio > 1 ? split.ratio : 1 / split.ratio;
    return {
      reason: `the rate ${word} by a factor of ${size.toFixed(1)} within the learning period`,
      dayDispersion,
    };
  }
  const excess = Math.sqrt(Math.max(0, dayDispersion - dispersion) / (pulses / usable.length));
  const tail = gammaQ(freedom / 2, chiSquare / dispersion / 2);
  if (tail < SCATTER_TAIL && excess > SCATTER_SHARE) {
    const reason = `the rate differs from day to day by ${Math.round(100 * excess)} %, more than its bursts explain`;
    return { reason, dayDispersion };
  }
  return { reason: '', dayDispersion };
}

function joinShort(days: readonly DayCount[]): DayCount[] {
  const joined: DayCount[] = [];
  let open: DayCount | null = null;
  for (const day of days) {
    open =
      open === null
        ? { ...day }
        : { start: open.start, pulses: open.pulses + day.pulses, ms: open.ms + day.ms };
    if (open.ms < SHORT_MS) continue;
    joined.push(open);
    open = null;
  }
  const last = joined[joined.length - 1];
  if (open !== null && last !== undefined) {
    last.pulses += open.pulses;
    last.ms += open.ms;
  }
  return joined;
}

/**
 * The split of the days whose two sides differ most, when they differ by far: ratio of the later rate to the earlier one. The
 * variance of its logarithm takes the larger of φ and the scatter of days within the two sides, so that a scatter without
 * a step is not called one.
 */
function bestSplit(days: readonly DayCount[], dispersion: number): { ratio: number } | null {
  let found: { ratio: number } | null = null;
  let most = SPLIT_DEVIATIONS;
  for (let i = SIDE_DAYS; i <= days.length - SIDE_DAYS; i++) {
    const before = sumOf(days.slice(0, i));
    const after = sumOf(days.slice(i));
    const half = 0.5 * dispersion;
    const ratio = ((after.pulses + half) * before.ms) / ((before.pulses + half) * after.ms);
    if (ratio < SPLIT_RATIO && ratio > 1 / SPLIT_RATIO) continue;
    const within = Math.max(dispersion, (before.chiSquare + after.chiSquare) / Math.max(1, days.length - 2));
    const variance = within / (before.pulses + half) + within / (after.pulses + half);
    const deviations = Math.abs(Math.log(ratio)) / Math.sqrt(variance);
    if (deviations < most) continue;
    most = deviations;
    found = { ratio };
  }
  return found;
}

function sumOf(days: readonly DayCount[]): { pulses: number; ms: number; chiSquare: number } {
  const pulses = days.reduce((sum, day) => sum + day.pulses, 0);
  const ms = days.reduce((sum, day) => sum + day.ms, 0);
  const rate = pulses / ms;
  let chiSquare = 0;
  if (rate > 0) for (const day of days) chiSquare += (day.pulses - rate * day.ms) ** 2 / (rate * day.ms);
  return { pulses, ms, chiSquare };
}
