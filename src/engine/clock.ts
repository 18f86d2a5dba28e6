/**
 * The gateway's clock: the wall clock, watched by the monotonic one. It never goes back. Where the wall clock lies before
 * what was committed already, or is put back, nothing may be acknowledged until it is right or a person lets it go on.
 */

/** A wall clock this much behind is put down to its ordinary correction. Our choice. */
const SLACK_MS = 2_000;

export interface ClockSources {
  /** ms since the epoch */
  wall(this: void): number;
  /** ms from any beginning, never falling */
  monotonic(this: void): number;
}

export const SYSTEM_CLOCK: ClockSources = { wall: () => Date.now(), monotonic: () => performance.now() };

export class Clock {
  readonly #sources: ClockSources;
  #last = Number.NEGATIVE_INFINITY;
  /** added to the wall clock after a person's override, ms; 0: none */
  offsetMs = 0;
  #anchorWall: number;
  #anchorMonotonic: number;

  constructor(sources: ClockSources) {
    this.#sources = sources;
    this.#anchorWall = sources.wall();
    this.#anchorMonotonic = sources.monotonic();
  }

  /** Integer ms, never less than before. */
  now(): number {
    const now = Math.floor(this.#sources.wall() + this.offsetMs);
    if (now > this.#last) this.#last = now;
    return this.#last;
  }

  /** Why the clock cannot be right; null: nothing speaks against it. `committedAt`: time of the last commit, 0: none. */
  findFault(committedAt: number): string | null {
    const wall = this.#sources.wall() + this.offsetMs;
    const behindMs = Math.max(committedAt, this.#last) - wall;
    if (behindMs <= SLACK_MS) return null;
    return `the clock of this machine says ${new Date(wall).toISOString()}, ${Math.round(behindMs / 1000)} s before what is stored already: set it, or let the gateway go on from its last time`;
  }

  /** How far the wall clock was put forward since the last call, in ms; 0: not by more than its ordinary correction. */
  takeStep(): number {
    const wall = this.#sources.wall();
    const monotonic = this.#sources.monotonic();
    const stepMs = wall - this.#anchorWall - (monotonic - this.#anchorMonotonic);
    this.#anchorWall = wall;
    this.#anchorMonotonic = monotonic;
    return Math.abs(stepMs) > SLACK_MS ? Math.round(stepMs) : 0;
  }

  /** A person decides: time goes on from `committedAt` as if the wall clock stood there. */
  goOnFrom(committedAt: number): void {
    const least = Math.max(committedAt, this.#last);
    const behindMs = least - (this.#sources.wall() + this.offsetMs);
    if (behindMs > 0) this.offsetMs += behindMs;
  }
}
