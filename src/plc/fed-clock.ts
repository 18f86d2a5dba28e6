/**
 * Time in a process that the gateway feeds: the machine's clock and what a person had the gateway add to it. How long
 * ago something was is measured by the monotonic clock, so that a machine whose clock is set shows no old value for new,
 * nor a gateway that says nothing for one that does.
 */
/** Steps of the wall clock below this are its ordinary correction. Our choice, as in `engine/clock.ts`. */
const SLACK_MS = 2_000;

export interface MachineClocks {
  /** ms since the epoch */
  wall(this: void): number;
  /** ms from any beginning, never falling */
  monotonic(this: void): number;
}

const THIS_MACHINE: MachineClocks = { wall: () => Date.now(), monotonic: () => performance.now() };

export class FedClock {
  #offsetMs = 0;
  readonly #startedAt: number;
  /** the last beat, by the one clock and by the other; null: none yet */
  #beat: { at: number; steadyAt: number } | null = null;

  constructor(private readonly sources: MachineClocks = THIS_MACHINE) {
    this.#startedAt = sources.monotonic();
  }

  /** The gateway's clock, integer ms. */
  now(): number {
    return Math.floor(this.sources.wall() + this.#offsetMs);
  }

  /** For measuring only: ms from any beginning, never falling. */
  steady(): number {
    return this.sources.monotonic();
  }

  upMs(): number {
    return this.steady() - this.#startedAt;
  }

  /** The gateway said something. `offsetMs`: what its clock adds to the machine's. */
  take(offsetMs: number): void {
    this.#offsetMs = offsetMs;
    this.#beat = { at: this.now(), steadyAt: this.steady() };
  }

  /** When it last said something, as `now` would have told it; null: it has not yet. */
  beatAt(): number | null {
    if (this.#beat === null) return null;
    const at = this.now() - (this.steady() - this.#beat.steadyAt);
    if (Math.abs(at - this.#beat.at) > SLACK_MS) this.#beat.at = Math.round(at);
    return this.#beat.at;
  }
}
