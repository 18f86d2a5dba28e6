/**
 * Counts that a technician started and waits for. Nothing runs for them: a count is a stretch of time, and what it counted
 * is read from the store once that stretch is over. They are held in memory and end with the process; the same time can
 * be asked for as a count of the past.
 */
import type { TimedCount } from '../core/timed-count.js';

/** Counts that go on at once; more would be a program, not people with portable counters. */
export const GOING_ON_MOST = 16;
const KEPT_MOST = 100;
/** The longest wait for run states is a minute, for a lost reading a few intervals; then there is what there is. */
const PATIENCE_MS = 180_000;

export interface LiveCount {
  readonly id: string;
  readonly sensor: string;
  readonly from: number;
  readonly to: number;
  /** as it was when everything in it had its class; null: it has not been asked for since */
  result: TimedCount | null;
}

export type LiveState = 'counting' | 'settling' | 'done' | 'incomplete';

export class LiveCounts {
  readonly #counts = new Map<string, LiveCount>();
  #nextId = 1;

  /** null: too many go on. Times in ms. */
  start(sensor: string, forMs: number, now: number): LiveCount | null {
    const goingOn = [...this.#counts.values()].filter(({ to }) => now < to);
    if (goingOn.length >= GOING_ON_MOST) return null;
    // the time of its start keeps an id of before a restart from meaning another count
    const id = `${now.toString(36)}-${this.#nextId++}`;
    const count: LiveCount = { id, sensor, from: now, to: now + forMs, result: null };
    this.#counts.set(id, count);
    for (const oldest of this.#counts.keys()) {
      if (this.#counts.size <= KEPT_MOST) break;
      this.#counts.delete(oldest);
    }
    return count;
  }

  /** null: there is none of this id, or it is long over. */
  find(id: string): LiveCount | null {
    return this.#counts.get(id) ?? null;
  }
}

/** `found`: what the store holds now; null: the time is not over, so nobody looked. Keeps a result that is final. */
export function judgeCount(count: LiveCount, found: TimedCount | null, now: number): LiveState {
  if (count.result !== null) return 'done';
  if (found === null) return 'counting';
  if (found.isSettled) {
    count.result = found;
    return 'done';
  }
  return now < count.to + PATIENCE_MS ? 'settling' : 'incomplete';
}
