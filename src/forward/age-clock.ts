/**
 * The clock by which waiting records are found too old. What is given up is given up for good, so a clock that is put
 * forward is believed only after it has stood for a while; one that is put back gives up less, and is believed at once.
 */
import type { ForwardClock } from './clock.js';

/** More than a correction of drift. Our choice, as is the other. */
const STEP_MS = 60_000;
/** Long enough for people, and for the vote of the devices, to find that a clock is wrong. */
const BELIEVED_AFTER_MS = 3_600_000;

export class AgeClock {
  #now: number;
  #steadyAt: number;
  /** since when the clock stands ahead, by the one that nobody sets; null: it does not */
  #aheadSince: number | null = null;

  constructor(private readonly clock: Pick<ForwardClock, 'now' | 'steady'>) {
    this.#now = clock.now();
    this.#steadyAt = clock.steady();
  }

  /** ms since the epoch. To be asked every so often. */
  now(): number {
    const [wall, steadyAt] = [this.clock.now(), this.clock.steady()];
    const expected = this.#now + (steadyAt - this.#steadyAt);
    this.#steadyAt = steadyAt;
    const isAhead = wall > expected + STEP_MS;
    if (isAhead) this.#aheadSince ??= steadyAt;
    else this.#aheadSince = null;
    const isBelieved = this.#aheadSince === null || steadyAt - this.#aheadSince >= BELIEVED_AFTER_MS;
    if (isBelieved) this.#aheadSince = null;
    this.#now = isBelieved ? wall : expected;
    return this.#now;
  }
}
