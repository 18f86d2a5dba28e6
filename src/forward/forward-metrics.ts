/** The figures of forwarding as `/metrics` shows them; none where nothing is configured. */
import type { SinkStatus } from './sink-status.js';

interface Figure {
  readonly name: string;
  readonly type: 'counter' | 'gauge';
  readonly help: string;
  readonly unit?: string;
  readonly values: readonly { readonly labels: Readonly<Record<string, string>>; readonly value: number }[];
}

export function makeForwardMetrics(sinks: readonly SinkStatus[], now: number): Figure[] {
  if (sinks.length === 0) return [];
  const of = (value: (sink: SinkStatus) => number): Figure['values'] =>
    sinks.map((sink) => ({ labels: { sink: sink.name }, value: value(sink) }));
  const gauge = (name: string, help: string, value: (sink: SinkStatus) => number): Figure => ({
    ...{ name, help, type: 'gauge', values: of(value) },
  });
  return [
    {
      ...{ name: 'sink_records_taken', help: 'Records that the receiver took.', type: 'counter' },
      values: of(({ taken }) => taken),
    },
    gauge('sink_up', '1: it takes records; 0: it does not.', ({ failingSince }) =>
      failingSince === null ? 1 : 0,
    ),
    gauge('sink_waiting_records', 'New records that wait.', ({ waitingLive }) => waitingLive),
    gauge('sink_backlog_records', 'Records that come late, behind the new ones.', ({ backlog }) => backlog),
    {
      ...gauge(
        'sink_live_lag_seconds',
        'How long the oldest new record has waited.',
        (one) => one.liveLagMs / 1_000,
      ),
      unit: 'seconds',
    },
    {
      ...gauge('sink_failing_seconds', 'For how long it has taken nothing.', ({ failingSince }) =>
        failingSince === null ? 0 : Math.max(0, now - failingSince) / 1_000,
      ),
      unit: 'seconds',
    },
    gauge('sink_quarantined_records', 'Records that it refuses for good.', ({ quarantined }) => quarantined),
    gauge('sink_lost_records', 'Records that were given up, see its ledger.', ({ lost }) => lost),
  ];
}
