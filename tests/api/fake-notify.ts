/** Notification in memory: one route over one channel that has been failing, and a test that is taken in part. */
import type { NotifyDesk } from '../../src/api/notify-desk.js';

export const FAILING_SINCE = Date.parse('2026-03-02T06:00:00Z');

export function makeFakeNotify(): NotifyDesk {
  return {
    status: () =>
      Promise.resolve({
        routes: [
          { route: 'shift', isOpen: true, waiting: 2, dueAt: FAILING_SINCE, isLimited: false, escalating: 1 },
        ],
        channels: [
          {
            ...{ channel: 'email', waiting: 3, sent: 7, failed: 2, lastSuccessAt: FAILING_SINCE - 60_000 },
            ...{ lastErrorAt: FAILING_SINCE, lastError: 'ECONNREFUSED', failingSince: FAILING_SINCE },
            ...{ lostMessages: 0, refused: ['gone@tarn-hollow.example'] },
          },
        ],
      }),
    test: (route) =>
      Promise.resolve(
        route !== 'shift'
          ? null
          : [
              {
                channel: 'email',
                outcome: {
                  kind: 'delivered',
                  refused: [{ to: 'gone@tarn-hollow.example', reason: '550 no such user' }],
                  later: [],
                },
              },
            ],
      ),
  };
}
