/**
 * When a reading was sampled: by the device's clock where that is believable, else by the device's run time since its
 * power-up, else by its arrival. Quality is uncertain for all but the first.
 * Source: our choice; the fields are those of the contract.
 */
import type { ReadingFact } from './facts.js';
import { sayOffset } from './figures.js';
import { diagnose, type ChainState, type CoreState, type SensorState } from './state.js';
import { Flag, flagClockError } from './words.js';

/** A device's oscillator is no further off than this. Source: ten times a common crystal's ± 50 ppm. */
const OSCILLATOR_ERROR = 5e-4;

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
export function doubtsOf(sensor: SensorState, fact: ReadingFact): number {
  const uncertain = sensor.motor.plan.hasRunState ? 0 : Flag.uncertain;
  if (!sensor.clock.off) return uncertain;
  return uncertain | flagClockError(fact.at === null ? 0 : fact.receivedAt - fact.at);
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
    diagnose(
      state,
      sensor.key,
      'clock-doubtful',
      fact.receivedAt,
      `the device's time is ${sayOffset(fact.at, fact.receivedAt)}: the time of arrival is taken`,
    );
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
