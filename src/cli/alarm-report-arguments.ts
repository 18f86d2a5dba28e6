/** What time `tallypost alarms report` is about, and over how many operator positions. */
import { POSITIONS_MOST, REPORT_DEFAULT_MS } from '../api/alarm-performance-reader.js';
import { type Arguments, numberOf, UsageError } from './command.js';
import { rangeOf } from './time-argument.js';

export interface ReportWish {
  /** ms */
  readonly from: number;
  readonly to: number;
  readonly positions: number;
}

/** Throws `UsageError`. */
export function readReportWish(args: Arguments, now: number): ReportWish {
  const range = rangeOf(args);
  const to = range.to ?? now;
  const from = range.from ?? to - REPORT_DEFAULT_MS;
  if (from >= to) throw new UsageError('--from must lie before now.');
  const positions = numberOf(args, 'positions', 1, POSITIONS_MOST) ?? 1;
  if (!Number.isInteger(positions)) throw new UsageError('--positions must be a whole number.');
  return { from, to, positions };
}
