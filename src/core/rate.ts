/**
 * The rate as it is told to live subscribers: the last final base window, and the trailing ten minutes of running
 * exposure with 95 % limits.
 */
import { rateLimits } from '../stats/poisson.js';
import type { RateNow } from './rows.js';
import type { SensorState } from './state.js';
import { Class } from './words.js';

const TRAILING_MS = 600_000;
const CONFIDENCE = 0.95;

/** No running exposure in the trailing minutes: the rates are null. */
export function rateOf(sensor: SensorState): RateNow {
  const { start, sums } = sensor.told!;
  const open = sensor.minute;
  let pulses = open.sums.pulses[Class.running]!;
  let ms = open.sums.ms[Class.running]!;
  let from = open.start;
  for (let i = sensor.minutes.length - 1; i >= 0 && ms < TRAILING_MS; i--) {
    const minute = sensor.minutes[i]!;
    pulses += minute.pulses;
    ms += minute.ms;
    from = minute.start;
  }
  const limits = rateLimits(pulses, ms, {
    confidence: CONFIDENCE,
    dispersion: sensor.dispersion,
    deadTimeS: sensor.plan.deadTimeS,
  });
  const doubtful =
    sums.uncertainMs > 0 ||
    !sensor.motor.plan.hasRunState ||
    sensor.dispersionUncertain ||
    limits?.uncertain === true;
  return {
    sensor: sensor.key,
    window: { sensor: sensor.key, start, pulses: sums.pulses, ms: sums.ms, uncertainMs: sums.uncertainMs },
    from,
    to: start + 10_000,
    pulses,
    exposureMs: ms,
    ratePerMin: limits?.ratePerMin ?? null,
    lowerPerMin: limits?.lowerPerMin ?? null,
    upperPerMin: limits?.upperPerMin ?? null,
    dispersion: sensor.dispersion,
    quality: limits === null ? 'bad' : doubtful ? 'uncertain' : 'good',
  };
}
