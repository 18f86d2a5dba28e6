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

/** The newest closed minutes that make up the trailing exposure together with the open one. */
export interface ClosedPart {
  readonly from: number;
  readonly pulses: number;
  readonly ms: number;
  /** the same sums serve while the open minute holds at least this much, and less than that */
  readonly least: number;
  readonly most: number;
}

/** `openMs`: running exposure of the open minute. */
function addClosed({ minute, minutes }: SensorState, openMs: number): ClosedPart {
  let pulses = 0;
  let ms = 0;
  let from = minute.start;
  let most = -Infinity;
  for (let i = minutes.length - 1; i >= 0 && openMs + ms < TRAILING_MS; i--) {
    const closed = minutes[i]!;
    most = TRAILING_MS - ms;
    pulses += closed.pulses;
    ms += closed.ms;
    from = closed.start;
  }
  const isAll = openMs + ms < TRAILING_MS;
  return { from, pulses, ms, least: isAll ? -Infinity : TRAILING_MS - ms, most };
}

/** Counts of the window that is to be told, and of the trailing minutes up to now. */
export function countRate(sensor: SensorState): RateCounts {
  const window = sensor.told!;
  const { sums } = sensor.minute;
  const openMs = sums.ms[Class.running]!;
  let { closed } = sensor;
  if (closed === null || openMs < closed.least || openMs >= closed.most)
    closed = sensor.closed = addClosed(sensor, openMs);
  return {
    window,
    from: closed.from,
    pulses: closed.pulses + sums.pulses[Class.running]!,
    exposureMs: closed.ms + openMs,
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
