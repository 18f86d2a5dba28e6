/** How old a value is, moving on by itself. What is older than it should be looks so, and says so. */
import { now, zone } from '../data/clock.js';
import { formatExact, formatSpan } from '../times.js';

/** `at` null: it never came. `staleAfterMs`: from then on it counts as old. */
export function Age({
  at,
  staleAfterMs,
  never = 'never',
}: {
  at: string | null;
  staleAfterMs: number;
  never?: string;
}) {
  if (at === null) return <span class="age is-stale">{never}</span>;
  const ms = Date.parse(at);
  const isStale = now.value - ms > staleAfterMs;
  return (
    <time class={`age ${isStale ? 'is-stale' : ''}`} dateTime={at} title={formatExact(ms, zone.value)}>
      {formatSpan(now.value - ms)} ago
    </time>
  );
}
