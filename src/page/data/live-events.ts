/** What the live stream brings, for whoever wants to hear it beside the plant's signals. */
import type { AlarmBody, DriveEvent, JournalEntry, RateBody, TransientBody } from './bodies.js';

export interface LiveEvents {
  readonly rate: RateBody;
  readonly alarm: AlarmBody;
  readonly drive: DriveEvent;
  readonly transient: TransientBody;
  readonly journal: JournalEntry;
  /** events may have been missed, and everything known was loaded again: so should lists that are kept up to date by events */
  readonly again: null;
}
export type LiveKind = keyof LiveEvents;

const listeners = new Map<LiveKind, Set<(value: never) => void>>();

/** Returns the function that ends it. */
export function onLive<K extends LiveKind>(kind: K, listener: (value: LiveEvents[K]) => void): () => void {
  const set = listeners.get(kind) ?? new Set();
  set.add(listener);
  listeners.set(kind, set);
  return () => set.delete(listener);
}

export function tellLive<K extends LiveKind>(kind: K, value: LiveEvents[K]): void {
  for (const listener of listeners.get(kind) ?? []) (listener as (value: LiveEvents[K]) => void)(value);
}
