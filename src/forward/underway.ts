/**
 * Batches of a lane that are chosen and not written down yet, oldest first. What comes next is chosen behind them; they are
 * written down in their order, and when one comes to nothing those behind it are forgotten, so that all of them come again.
 */
import type { Picked } from './picked.js';
import type { SinkBook, End } from './sink-book.js';

/** Up to which position of each stream a batch goes. */
export interface Reach {
  readonly end: End;
  readonly to: ReadonlyMap<number, number>;
}

/** What a batch of entries of the outbox reaches to. */
export function reachOf(picked: readonly Picked[], end: End): Reach {
  return { end, to: new Map(picked.map(({ entry }) => [entry.code, entry.position])) };
}

export class Underway {
  /** null: a batch that is no part of the outbox, such as a page of a backfill; nothing is chosen behind it */
  #reaches: (Reach | null)[] = [];

  constructor(private readonly book: SinkBook) {}

  get isEmpty(): boolean {
    return this.#reaches.length === 0;
  }

  get isClosed(): boolean {
    return this.#reaches.includes(null);
  }

  add(reach: Reach | null): void {
    this.#reaches.push(reach);
  }

  /** The oldest is written down. */
  land(): void {
    this.#reaches.shift();
  }

  forget(): void {
    this.#reaches = [];
  }

  /** Up to here the live end is settled or under way. */
  liveOf(code: number): number {
    return this.#reachOf(code, 'live', this.book.cursor(code).live);
  }

  /** The oldest gap that is not wholly under way, as far as it is not; null: there is none. */
  gapOf(code: number): readonly [after: number, to: number] | null {
    const reached = this.#reachOf(code, 'gap', -Infinity);
    for (const [after, to] of this.book.cursors.get(code)?.gaps ?? [])
      if (to > reached) return [Math.max(after, reached), to];
    return null;
  }

  #reachOf(code: number, end: End, from: number): number {
    let reached = from;
    for (const reach of this.#reaches)
      if (reach?.end === end) reached = Math.max(reached, reach.to.get(code) ?? reached);
    return reached;
  }
}
