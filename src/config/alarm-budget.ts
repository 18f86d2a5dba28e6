/**
 * From one stated number of false alarms to the share of every alarm, and to the confidence of the limits of rate alarms.
 * Why: a habit of 95 % raises, on forty sensors looked at every ten minutes, some four thousand alarms a month by chance.
 */

const MONTH_MS = 30 * 86_400_000;
/** Never laxer than the limits that are shown. */
const CONFIDENCE_MIN = 0.95;

/** One false alarm in 20 motor-years, in motor-months. */
const MOTOR_MONTHS = 240;
/** False alarms a month where the file states none. */
const BUDGET = 1;

/** False alarms a month over the whole plant. */
export function budgetOf(stated: number | null): number {
  return stated ?? BUDGET;
}

/**
 * What of it the deviation alarms may spend. Nobody set them up, so where no budget is stated they raise by chance at most once
 * in 20 motor-years: what wears out trust is how often one motor cries wolf. Source: our choice.
 */
export function deviationBudgetOf(stated: number | null, motors: number): number {
  return stated ?? Math.min(BUDGET, motors / MOTOR_MONTHS);
}

/** What decides how often one alarm can be false: one entry per sensor and kind. */
export interface LookedAt {
  /** running exposure of its evaluation window */
  readonly windowMs: number;
}

/**
 * The two-sided confidence that keeps the whole plant within `falseAlarmsPerMonth`.
 *
 * Alarm i looks at a window of w_i of running. Windows that do not overlap are independent looks; a motor that runs a
 * whole month of 30 days gives L_i = 30 d / w_i of them (4,320 at 10 min). Each look at a motor whose true rate stands
 * just at the setpoint raises by chance with the one-sided tail p of the lower limit, so the plant expects p · Σ L_i a
 * month. Set equal to the budget B: p = B / Σ L_i, and the two-sided confidence is 1 − 2p.
 * On the safe side: no motor runs all month at its setpoint, and the on-delay asks for several looks in a row. Not
 * counted: windows that move on by the minute overlap, which adds looks that are not independent ones.
 * Example: 16 sensors × 2 kinds, 10 min, B = 1: p = 1 / 138,240, confidence 0.999986.
 * No alarms: 0.95. Source: Bonferroni over the looks; the count of looks is our choice.
 */
export function confidenceWithin(falseAlarmsPerMonth: number, alarms: readonly LookedAt[]): number {
  const looks = alarms.reduce((sum, alarm) => sum + MONTH_MS / alarm.windowMs, 0);
  if (looks === 0) return CONFIDENCE_MIN;
  return Math.max(CONFIDENCE_MIN, 1 - (2 * falseAlarmsPerMonth) / looks);
}
