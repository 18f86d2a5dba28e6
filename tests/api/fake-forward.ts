/** Forwarding in memory: one sink that drains a backlog, and whose ledger adds up. */
import type { BackfillOrder, ForwardDesk } from '../../src/api/forward-desk.js';

export const FORWARDED_SINCE = Date.parse('2026-03-01T00:00:00Z');

export function makeFakeForward(orders: BackfillOrder[] = []): ForwardDesk {
  const counts = { produced: 12, delivered: 7, superseded: 1, pending: 2, quarantined: 1, expired: 1 };
  return {
    status: () =>
      Promise.resolve([
        {
          ...{ name: 'plant', kind: 'mqtt', streams: ['rollups'], periods: ['1m'], state: 'draining' },
          ...{
            since: FORWARDED_SINCE,
            waitingLive: 1,
            backlog: 400,
            liveLagMs: 900,
            ratePerS: 20,
            etaMs: 20_000,
          },
          ...{
            quarantined: 1,
            lost: 1,
            taken: 7,
            failingSince: null,
            lastSuccessAt: FORWARDED_SINCE + 60_000,
          },
          ...{ lastErrorAt: FORWARDED_SINCE, lastError: 'ECONNREFUSED', backfills: [] },
        },
      ]),
    ledger: (sink) =>
      Promise.resolve({
        ...{ sink, since: FORWARDED_SINCE, isBalanced: true },
        lines: [{ stream: 'rollups', period: '1m', subject: 'booster-1/de', ...counts }],
        losses: [
          {
            ...{
              stream: 'rollups',
              period: '1m',
              subject: 'booster-1/de',
              count: 1,
              reason: 'it waited too long',
            },
            ...{ firstStart: FORWARDED_SINCE, lastStart: FORWARDED_SINCE, at: FORWARDED_SINCE + 1_000 },
          },
        ],
      }),
    retry: () => Promise.resolve(1),
    test: () => Promise.resolve(null),
    backfill: (_sink, order) => Promise.resolve(orders.push(order)),
  };
}
