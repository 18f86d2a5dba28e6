/** Times given on the command line. */
import { z } from 'zod';
import { type Arguments, optionalTextOf, UsageError } from './command.js';

const isoTime = z.iso.datetime({ offset: true });

/** RFC 3339 with an offset, or milliseconds since the epoch; null: not given. Throws `UsageError`. */
export function timeOf(args: Arguments, name: string): number | null {
  const text = optionalTextOf(args, name);
  if (text === null) return null;
  if (/^\d{1,15}$/.test(text)) return Number(text);
  const parsed = isoTime.safeParse(text);
  if (parsed.success) return Date.parse(parsed.data);
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
