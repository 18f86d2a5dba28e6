/**
 * The source time that a node's value is told with. It never runs backwards, and no two different values of a node share one:
 * whoever keeps values by their time would lose the first of them. Pure.
 * Source: OPC 10000-4 clause 7.7.3, from memory: the source time of a value that is not good is when that was recognised.
 */
import type { StatusName, ToldValue } from './opcua-values.js';

/** What a node was told as last. `at`: its source time, ms. */
export interface StampedValue {
  readonly value: number | null;
  readonly status: StatusName;
  readonly at: number;
}

/** `before` null: nothing was told yet. Returns null where there is nothing to write. */
export function stampValue(before: StampedValue | null, told: ToldValue, now: number): StampedValue | null {
  const { value, status, at, isOfChange } = told;
  if (before === null) return { value, status, at: at ?? now };
  const isSame = before.value === value && before.status === status;
  // an equal value that is bad, or that is told by its changes, has its time already
  if (isSame && (value === null || isOfChange === true || at === null || at <= before.at)) return null;
  if (at !== null && at > before.at) return { value, status, at };
  // the event lies before what was told since: that this may be said of it changed now
  return { value, status, at: Math.max(now, before.at + 1) };
}
