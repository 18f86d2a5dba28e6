/** How long to wait before the next attempt: twice as long each time, and never two senders in step. */

const LEAST_MS = 2_000;
const MOST_MS = 300_000;
/** A receiver that asks for more patience than this is asked again all the same: an alarm must not wait for a day. */
const ASKED_MOST_MS = 3_600_000;

/**
 * `attempts`: failed ones so far, at least 1. `askedMs`: what the receiver asked for; null: nothing. `random`: 0 to below 1.
 * Between half and the whole of the doubled wait, never less than was asked for.
 */
export function waitBeforeRetry(attempts: number, askedMs: number | null, random: number): number {
  const doubled = Math.min(MOST_MS, LEAST_MS * 2 ** Math.min(20, attempts - 1));
  const jittered = Math.round(doubled * (0.5 + random / 2));
  return Math.max(jittered, Math.min(askedMs ?? 0, ASKED_MOST_MS));
}
