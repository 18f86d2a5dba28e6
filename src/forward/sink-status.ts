/** How a sink stands, for people and for figures. */
import type Database from 'better-sqlite3';
import type { SinkStanding } from '../core/facts.js';
import type { Backfills, BackfillState } from './backfill.js';
import type { LedgerLine, LossLine } from './delivery-ledger.js';
import type { Lane } from './lane.js';
import type { Quarantine } from './quarantine.js';
import type { SinkSettings } from './registry.js';
import type { SinkBook } from './sink-book.js';
import type { StandingWatch } from './standing.js';

export const SINK_STATES = ['live', 'draining', 'failing', 'connecting'] as const;
export type SinkState = (typeof SINK_STATES)[number];

export interface SinkStatus {
  readonly name: string;
  readonly kind: string;
  readonly streams: readonly string[];
  readonly periods: readonly string[];
  readonly state: SinkState;
  /** ms */
  readonly since: number;
  /** records that wait: new ones, and those behind them */
  readonly waitingLive: number;
  readonly backlog: number;
  /** how long the oldest new record has waited, ms */
  readonly liveLagMs: number;
  /** records a second over the last minute */
  readonly ratePerS: number;
  /** until the backlog is drained, ms; null: it is not being drained */
  readonly etaMs: number | null;
  readonly quarantined: number;
  readonly lost: number;
  /** records since the start of the gateway */
  readonly taken: number;
  readonly failingSince: number | null;
  readonly lastSuccessAt: number | null;
  readonly lastErrorAt: number | null;
  readonly lastError: string;
  readonly backfills: readonly BackfillState[];
  readonly standing: SinkStanding;
}

export interface SinkLedger {
  readonly sink: string;
  readonly since: number;
  readonly isBalanced: boolean;
  readonly lines: readonly LedgerLine[];
  readonly losses: readonly LossLine[];
}

interface Described {
  readonly settings: SinkSettings;
  readonly book: SinkBook;
  readonly quarantine: Quarantine;
  readonly backfills: Backfills;
  readonly lane: Lane;
  readonly standing: StandingWatch;
}

export function describeSinkStatus(
  { settings, book, quarantine, backfills, lane, standing }: Described,
  db: Database.Database,
  now: number,
): SinkStatus {
  const { tally, work } = lane;
  const { live, late } = work.count();
  const ratePerS = tally.ratePerS();
  const isDraining = late > 0 && tally.failingSince === null;
  const lost = db.prepare('SELECT coalesce(sum(count), 0) FROM loss WHERE sink = ?').pluck().get(book.name);
  return {
    ...{ name: settings.name, kind: settings.kind, streams: settings.streams, periods: settings.periods },
    state: stateOf(lane, late),
    since: book.since,
    waitingLive: live,
    backlog: late,
    liveLagMs: work.liveLagMs(now),
    ratePerS,
    etaMs: isDraining
      ? Math.ceil((late / Math.min(settings.backlogPerS, Math.max(ratePerS, 1))) * 1_000)
      : null,
    quarantined: quarantine.size,
    lost: lost as number,
    taken: tally.taken,
    ...{ failingSince: tally.failingSince, lastSuccessAt: tally.lastSuccessAt },
    ...{ lastErrorAt: tally.lastErrorAt, lastError: tally.lastError },
    backfills: backfills.list(),
    standing: standing.describe(lane),
  };
}

function stateOf({ tally, isOpen }: Lane, late: number): SinkState {
  if (tally.failingSince !== null) return 'failing';
  if (!isOpen) return 'connecting';
  return late > 0 ? 'draining' : 'live';
}
