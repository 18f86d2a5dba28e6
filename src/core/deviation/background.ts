/**
 * Counts without own modulation: interference, cross-talk, or current from elsewhere. Judged by the hour against a setpoint, or
 * against the sensor's own past; on limits that carry how unevenly such counts come.
 * Source: our choice; limits as for running counts (contrast.ts, stats/poisson.ts).
 */
import { poissonLimits } from '../../stats/poisson.js';

/** Background exposure that a past needs before it is a measure. */
const PAST_MS = 20 * 3_600_000;
const PAST_HOURS = 20;
const FADE = 0.5;
const PAST_MS_MAX = 400 * 3_600_000;

/** Sums of background hours, fading: beyond 400 h old ones lose weight, so that the past follows the site. */
export interface BackgroundPast {
  pulses: number;
  ms: number;
  /** Σ x²/e (e in hours) and number of the hours */
  q: number;
  hours: number;
}

/** An hour's part without own modulation. */
export interface BackgroundHour {
  pulses: number;
  ms: number;
}

export function newPast(): BackgroundPast {
  return { pulses: 0, ms: 0, q: 0, hours: 0 };
}

export function addBackground(past: BackgroundPast, { pulses, ms }: BackgroundHour): void {
  if (ms < 60_000) return;
  past.pulses += pulses;
  past.ms += ms;
  past.q += pulses ** 2 / (ms / 3_600_000);
  past.hours += 1;
  if (past.ms < PAST_MS_MAX) return;
  past.pulses *= FADE;
  past.ms *= FADE;
  past.q *= FADE;
  past.hours *= FADE;
}

/** Dispersion of the hours around their common rate, ≥ 1. */
export function backgroundDispersion(past: BackgroundPast): number {
  if (past.pulses <= 0 || past.hours < 2) return 1;
  const perHour = past.pulses / (past.ms / 3_600_000);
  return Math.max(1, (past.q / perHour - past.pulses) / (past.hours - 1));
}

/**
 * Rate per minute beyond which background is high by the sensor's own past: `factor` times what the past allows at most, and never
 * below `leastPerMin`, because a past without counts would make every pulse high. null: not enough past.
 */
export function backgroundSetpoint(
  past: BackgroundPast,
  factor: number,
  leastPerMin: number,
): { perMin: number; dispersion: number } | null {
  if (past.ms < PAST_MS || past.hours < PAST_HOURS) return null;
  const dispersion = backgroundDispersion(past);
  const upper = poissonLimits(past.pulses, 0.95, dispersion).upper / (past.ms / 60_000);
  return { perMin: Math.max(leastPerMin, factor * upper), dispersion };
}
