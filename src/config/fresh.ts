/**
 * How old a value may get before it is told as unknown, unless the site says so itself: three reporting intervals, as the
 * longest usable increment, and 90 s, the longest wait for a run state (60 s) with some room. Our choice.
 */
export const FRESH_INTERVALS = 3;
export const FRESH_WAIT_MS = 90_000;

export function staleAfterMs(intervalMs: number, configuredMs: number | null): number {
  return configuredMs ?? FRESH_INTERVALS * intervalMs + FRESH_WAIT_MS;
}
