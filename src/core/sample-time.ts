/**
 * When a reading was sampled: by the device's clock where that is believable, else by the device's run time since its
 * power-up, else by its arrival. Quality is uncertain for all but the first.
 * Source: our choice; the fields are those of the contract.
 */
import type { ReadingFact } from './facts.js';
import { sayOffset } from './figures.js';
import { diagnose, type ChainState, type CoreState, type SensorState } from './state.js';
import { sayUtc } from './utc-text.js';
import { Flag, flagClockError } from './words.js';

/** A device's oscillator is no further off than this. Source: ten times a common crystal's ± 50 ppm. */
const OSCILLATOR_ERROR = 5e-4;

const DAY_MS = 86_400_000;

export interface SampleTime {
  readonly to: number;
  readonly flags: number;
}

/** Whether the device's own time can be right: neither in the future nor older than what may be revised. */
export function isBelievable(state: CoreState, fact: ReadingFact): boolean {
  const { at, receivedAt } = fact;
  return (
    at !== null &&
    at <= receivedAt + state.plan.futureToleranceMs &&
    at >= receivedAt - state.plan.reviseHorizonMs
  );
}

/** Flags that a reading's time has whatever it is taken from: the motor tells no run state, or the device's clock is off. */
export function doubtsOf(state: CoreState, sensor: SensorState, fact: ReadingFact): number {
  const uncertain = sensor.motor.plan.hasRunState ? 0 : Flag.uncertain;
  if (!sensor.clock.off) return uncertain;
  // where the time of arrival is taken, the error of the device's clock is none of it
  const errorMs = isBelievable(state, fact) ? fact.receivedAt - fact.at! : 0;
  return uncertain | flagClockError(errorMs);
}

/** A device that was given Unix seconds where milliseconds are expected is in 1970, to within a day a thousand times too early. */
function isInSeconds(at: number, receivedAt: number): boolean {
  return Math.abs(at * 1000 - receivedAt) < DAY_MS;
}

function tellDoubtful(at: number, receivedAt: number): string {
  const says = isInSeconds(at, receivedAt)
    ? '`at` is in seconds, and milliseconds or RFC 3339 are expected'
    : `the device says it is ${sayUtc(at)}, ${sayOffset(at, receivedAt)} time`;
  return `${says}: the time of arrival is taken`;
}

export function dateReading(
  state: CoreState,
  sensor: SensorState,
  chain: ChainState,
  fact: ReadingFact,
): SampleTime {
  if (fact.at !== null && isBelievable(state, fact)) return { to: fact.at, flags: 0 };
  const flags = Flag.uncertain | Flag.noAt;
  if (fact.at === null && fact.upMs !== null) {
    followAnchor(sensor, chain, fact.receivedAt, fact.upMs);
    return { to: chain.upAnchor! + fact.upMs, flags };
  }
  if (fact.at !== null) {
    const detail = tellDoubtful(fact.at, fact.receivedAt);
    diagnose(state, sensor.key, 'clock-doubtful', fact.receivedAt, detail);
  }
  return { to: fact.receivedAt, flags };
}

/**
 * The power-up in the gateway's time. It is no later than any arrival allows, creeps after a slow oscillator, and begins
 * anew when the device powered up after its last reading. A backlog comes too late to say anything.
 */
function followAnchor(sensor: SensorState, chain: ChainState, receivedAt: number, upMs: number): void {
  const found = receivedAt - upMs;
  const last = chain.rows[chain.rows.length - 1];
  const anchor = chain.upAnchor;
  const restarted =
    last !== undefined && last.upMs !== null && chain.boot === null && upMs < last.upMs && found > last.to;
  if (anchor === null || found < anchor || restarted) {
    chain.upAnchor = found;
    return;
  }
  if (last === undefined || last.upMs === null || found - anchor > sensor.plan.intervalMs / 2) return;
  const slack = Math.max(0, upMs - last.upMs) * OSCILLATOR_ERROR;
  chain.upAnchor = Math.round(anchor + Math.min(found - anchor, slack));
}
