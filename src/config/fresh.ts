/**
 * How old a value may get before it is told as unknown, unless the site says so itself: three reporting intervals, as the
 * longest usable increment, and 90 s, the longest wait for a run state (60 s) with some room. Our choice.
 */
export const FRESH_INTERVALS = 3;
export const FRESH_WAIT_MS = 90_000;
/** Rates are told as often as their base windows close: DESIGN section 5. */
const RATE_WINDOW_MS = 10_000;

export function staleAfterMs(intervalMs: number, configuredMs: number | null): number {
  return configuredMs ?? FRESH_INTERVALS * intervalMs + FRESH_WAIT_MS;
}

/** How many intervals before a value is unknown it counts as the last usable one: a reading missed, and half another. */
const DOUBT_INTERVALS = 1.5;
/** What the way of a reading, a tick and the telling may add to the age of a rate. Our choice. */
const WAY_MS = 5_000;

/**
 * How old a rate may get before it counts as the last usable one rather than as a good one. Rates are told by windows, and a
 * window waits until its run state is settled, `settleMs` at most in ordinary operation: so old the newest one gets
 * again and again with nothing wrong. At most `staleMs`. Our choice.
 */
export function goodForMs(intervalMs: number, settleMs: number, staleMs: number): number {
  const ordinaryMs = Math.max(intervalMs, RATE_WINDOW_MS) + settleMs + WAY_MS;
  return Math.min(staleMs, Math.max(Math.round(staleMs - DOUBT_INTERVALS * intervalMs), ordinaryMs));
}
