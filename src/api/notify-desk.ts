/** Notification as the HTTP interface asks for it; times in ms, null: never yet, or not so. */

export interface NotifyRouteRow {
  readonly route: string;
  readonly isOpen: boolean;
  readonly waiting: number;
  readonly dueAt: number | null;
  readonly isLimited: boolean;
  readonly escalating: number;
}

export interface NotifyChannelRow {
  /** `email`, or `webhook:NAME` */
  readonly channel: string;
  readonly waiting: number;
  readonly sent: number;
  readonly failed: number;
  readonly lastSuccessAt: number | null;
  readonly lastErrorAt: number | null;
  readonly lastError: string;
  readonly failingSince: number | null;
  readonly lostMessages: number;
  readonly refused: readonly string[];
}

/** What came of a test over one channel. */
export interface NotifyTestRow {
  readonly channel: string;
  readonly outcome:
    | {
        readonly kind: 'delivered';
        readonly refused: readonly { readonly to: string; readonly reason: string }[];
        readonly later: readonly string[];
      }
    | { readonly kind: 'later'; readonly reason: string }
    | { readonly kind: 'never'; readonly reason: string };
}

export interface NotifyStatus {
  readonly routes: readonly NotifyRouteRow[];
  readonly channels: readonly NotifyChannelRow[];
}

export interface NotifyDesk {
  status(): Promise<NotifyStatus>;
  /** null: there is no such route */
  test(route: string): Promise<readonly NotifyTestRow[] | null>;
}
