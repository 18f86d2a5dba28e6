/**
 * The rate as it is told to live subscribers: the last final base window, and the trailing ten minutes of running
 * exposure with 95 % limits. A step takes the counts only; limits are worked out where the rate is told, for they cost
 * more than everything else that a reading sets off, and of the rates of one batch only each sensor's last is told.
 */
import { rateLimits } from '../stats/poisson.js';
import type { RateNow, WindowIssued } from './rows.js';
import type { SensorState } from './state.js';
import { Class } from './words.js';

const TRAILING_MS = 600_000;
const CONFIDENCE = 0.95;

/** What a rate is told from: a final base window, and the trailing 10 min of running exposure. */
export interface RateCounts {
  readonly window: WindowIssued;
  /** start of the trailing exposure, its pulses and ms */
  readonly from: number;
  readonly pulses: number;
  readonly exposureMs: number;
  readonly dispersion: number;
  readonly deadTimeS: number;
  /** uncertain whatever the limits say */
  readonly isDoubtful: boolean;
}

/** Counts of the window that is to be told, and of the trailing minutes up to now. */
export function countRate(sensor: SensorState): RateCounts {
  const window = sensor.told!;
  const { minute, minutes } = sensor;
  let pulses = minute.sums.pulses[Class.running]!;
  let ms = minute.sums.ms[Class.running]!;
  let from = minute.start;
  for (let i = minutes.length - 1; i >= 0 && ms < TRAILING_MS; i--) {
    const closed = minutes[i]!;
    pulses += closed.pulses;
    ms += closed.ms;
    from = closed.start;
  }
  return {
    window,
    from,
    pulses,
    exposureMs: ms,
    dispersion: sensor.dispersion,
    deadTimeS: sensor.plan.deadTimeS,
    isDoubtful: window.uncertainMs > 0 || !sensor.motor.plan.hasRunState || sensor.dispersionUncertain,
  };
}

/** The rate with its limits. No running exposure in the trailing minutes: the rates are null. */
export function rateOf(counts: RateCounts): RateNow {
  const { window, from, pulses, exposureMs, dispersion, deadTimeS } = counts;
  const limits = rateLimits(pulses, exposureMs, { confidence: CONFIDENCE, dispersion, deadTimeS });
  const isDoubtful = counts.isDoubtful || limits?.uncertain === true;
  return {
    sensor: window.sensor,
    window,
    from,
    to: window.start + 10_000,
    pulses,
    exposureMs,
    ratePerMin: limits?.ratePerMin ?? null,
    lowerPerMin: limits?.lowerPerMin ?? null,
    upperPerMin: limits?.upperPerMin ?? null,
    dispersion,
    quality: limits === null ? 'bad' : isDoubtful ? 'uncertain' : 'good',
  };
}
