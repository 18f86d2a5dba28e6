/** Forwarding as the HTTP interface asks for it; times in ms, null: never yet, or not so. */

export interface SinkBackfillRow {
  readonly id: number;
  readonly wish: {
    readonly from: number;
    readonly to: number;
    readonly subject: string | null;
    /** of a backfill after doubt only */
    readonly places?: readonly object[];
  };
  readonly sent: number;
  readonly refused: number;
  readonly askedAt: number;
  readonly endedAt: number | null;
}

export interface SinkRow {
  readonly name: string;
  readonly kind: string;
  readonly streams: readonly string[];
  readonly periods: readonly string[];
  readonly state: 'live' | 'draining' | 'failing' | 'connecting';
  readonly since: number;
  readonly waitingLive: number;
  readonly backlog: number;
  readonly liveLagMs: number;
  readonly ratePerS: number;
  readonly etaMs: number | null;
  readonly quarantined: number;
  readonly lost: number;
  readonly taken: number;
  readonly failingSince: number | null;
  readonly lastSuccessAt: number | null;
  readonly lastErrorAt: number | null;
  readonly lastError: string;
  readonly backfills: readonly SinkBackfillRow[];
}

export interface SinkLedgerRow {
  readonly stream: string;
  readonly period: string | null;
  readonly subject: string;
  readonly produced: number;
  readonly delivered: number;
  readonly superseded: number;
  readonly pending: number;
  readonly quarantined: number;
  readonly expired: number;
}

export interface SinkLossRow {
  readonly stream: string;
  readonly period: string | null;
  readonly subject: string;
  readonly count: number;
  readonly firstStart: number;
  readonly lastStart: number;
  readonly at: number;
  readonly reason: string;
}

export interface SinkLedgerTable {
  readonly sink: string;
  readonly since: number;
  readonly isBalanced: boolean;
  readonly lines: readonly SinkLedgerRow[];
  readonly losses: readonly SinkLossRow[];
}

/** What people may ask to be sent again. `streams`, `periods` null: all that the sink gets. */
export interface BackfillOrder {
  readonly from: number;
  readonly to: number;
  readonly streams: readonly string[] | null;
  readonly periods: readonly string[] | null;
  readonly subject: string | null;
}

/** Rejects where there is no such sink, or nothing can be said at the moment. */
export interface ForwardDesk {
  status(): Promise<readonly SinkRow[]>;
  ledger(sink: string): Promise<SinkLedgerTable>;
  /** how many records are tried again */
  retry(sink: string): Promise<number>;
  /** number of the backfill */
  backfill(sink: string, order: BackfillOrder): Promise<number>;
  /** null: the record was taken; else why not */
  test(sink: string): Promise<string | null>;
}
