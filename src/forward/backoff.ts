/**
 * How long to wait before the next attempt.
 * Source: "full jitter", a wait drawn evenly from zero to a bound that doubles; common practice, no source.
 */
const FIRST_MS = 500;
/** No receiver keeps us away for longer, whatever it asks for. */
const ASKED_MOST_MS = 3_600_000;

/** `failures`: in succession, at least 1. `retryAfterMs`: what the receiver asked for; null: nothing. */
export function drawWait(
  failures: number,
  mostMs: number,
  retryAfterMs: number | null,
  random: () => number,
): number {
  const bound = Math.min(mostMs, FIRST_MS * 2 ** Math.min(failures, 20));
  return Math.max(Math.min(retryAfterMs ?? 0, ASKED_MOST_MS), Math.round(random() * bound));
}
