/**
 * The streams of the outbox, finer than what a receiver is told: each period has a number of its own, because what is given
 * up first when room is short goes by period. Numbers are stored, and never reused.
 */
import type { RollupAdd } from '../core/rows.js';

export type StoredPeriod = RollupAdd['period'];

export interface OutboxStream {
  readonly code: number;
  readonly stream: 'rollups' | 'transients' | 'alarms' | 'journal' | 'manifests';
  /** of rollups and manifests */
  readonly period: StoredPeriod | null;
}

export const ROLLUP_CODES: Readonly<Record<StoredPeriod, number>> = { '1m': 1, '10m': 2, '1h': 3 };
export const TRANSIENTS = 4;
export const ALARMS = 5;
export const JOURNAL = 6;
export const MANIFEST_CODES: Readonly<Record<StoredPeriod, number>> = { '1m': 7, '10m': 8, '1h': 9 };
export const STORED_PERIODS: readonly StoredPeriod[] = ['1m', '10m', '1h'];

/** In the order in which they are sent when all have something new: what people wait for first. */
export const OUTBOX_STREAMS: readonly OutboxStream[] = [
  { code: ALARMS, stream: 'alarms', period: null },
  { code: JOURNAL, stream: 'journal', period: null },
  { code: TRANSIENTS, stream: 'transients', period: null },
  ...STORED_PERIODS.map((period) => ({ code: ROLLUP_CODES[period], stream: 'rollups' as const, period })),
  ...STORED_PERIODS.map((period) => ({ code: MANIFEST_CODES[period], stream: 'manifests' as const, period })),
];

/** The order in which they are given up when the outbox is full: what can be computed from something else goes first. */
export const TIERS: readonly number[] = [1, 2, 3, 7, 8, 9, TRANSIENTS, JOURNAL, ALARMS];

/** Of an entry in `revision`: it tells of a transient that was removed. */
export const REMOVED = 1;
