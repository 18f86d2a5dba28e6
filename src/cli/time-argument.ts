/** Times given on the command line. */
import { isTimeMs, parseRfc3339 } from '../../shared/time.js';
import { type Arguments, optionalTextOf, UsageError } from './command.js';

/** RFC 3339 with an offset, or milliseconds since the epoch; null: not given. Throws `UsageError`. */
export function timeOf(args: Arguments, name: string): number | null {
  const text = optionalTextOf(args, name);
  if (text === null) return null;
  const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text);
  if (time !== null && isTimeMs(time)) return time;
  const hint =
    'Write it like 2026-03-01T06:00:00Z, 2026-03-01T07:00:00+01:00, or in milliseconds since 1970.';
  throw new UsageError(`--${name} "${text}" is no time.`, hint);
}

/** `from` < `to` where both are given. */
export function rangeOf(args: Arguments): { from: number | null; to: number | null } {
  const from = timeOf(args, 'from');
  const to = timeOf(args, 'to');
  if (from !== null && to !== null && from >= to) throw new UsageError('--from must lie before --to.');
  return { from, to };
}
