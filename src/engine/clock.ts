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

/**
 * The wall clock with what a person had added to it. When the wall clock is set forward, as whoever lets the gateway go on is asked
 * to do, what was added melts by as much: otherwise time would be ahead by the whole of it from then on.
 */
export class AddedTime {
  readonly #sources: ClockSources;
  readonly #onMelt: (ms: number) => void;
  #ms = 0;
  /** how far the wall clock was put forward since, and that is not melted yet; below 0: it was put back */
  #steppedMs = 0;
  #wall = 0;
  #monotonic = 0;

  /** `onMelt`: told what is left. */
  constructor(sources: ClockSources, onMelt: (ms: number) => void = () => undefined) {
    this.#sources = sources;
    this.#onMelt = onMelt;
  }

  /** 0: nothing is added */
  get ms(): number {
    return this.#ms;
  }

  set(ms: number): void {
    this.#ms = ms;
    this.#steppedMs = 0;
    this.#wall = this.#sources.wall();
    this.#monotonic = this.#sources.monotonic();
  }

  /** ms since the epoch, not rounded */
  now(): number {
    const wall = this.#sources.wall();
    if (this.#ms > 0) this.#melt(wall, this.#sources.monotonic());
    return wall + this.#ms;
  }

  #melt(wall: number, monotonic: number): void {
    const stepMs = wall - this.#wall - (monotonic - this.#monotonic);
    this.#wall = wall;
    this.#monotonic = monotonic;
    if (Math.abs(stepMs) <= SLACK_MS) return;
    this.#steppedMs += stepMs;
    // what only takes a step back into the past back sets nothing right
    if (this.#steppedMs <= SLACK_MS) return;
    this.#ms = Math.max(0, this.#ms - this.#steppedMs);
    this.#steppedMs = 0;
    this.#onMelt(this.#ms);
  }
}

export class Clock {
  readonly #sources: ClockSources;
  readonly #added: AddedTime;
  #last = Number.NEGATIVE_INFINITY;
  #anchorWall: number;
  #anchorMonotonic: number;

  constructor(sources: ClockSources) {
    this.#sources = sources;
    this.#added = new AddedTime(sources);
    this.#anchorWall = sources.wall();
    this.#anchorMonotonic = sources.monotonic();
  }

  /** added to the wall clock after a person's override, ms; 0: none */
  get offsetMs(): number {
    return this.#added.ms;
  }

  /** Integer ms, never less than before. */
  now(): number {
    const now = Math.floor(this.#added.now());
    if (now > this.#last) this.#last = now;
    return this.#last;
  }

  /** Why the clock cannot be right; null: nothing speaks against it. `committedAt`: time of the last commit, 0: none. */
  findFault(committedAt: number): string | null {
    const wall = this.#added.now();
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
    const behindMs = least - this.#added.now();
    if (behindMs > 0) this.#added.set(this.#added.ms + behindMs);
  }
}
