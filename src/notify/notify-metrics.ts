/** The figures of notification as `/metrics` shows them; none where nothing is configured. */
import type { NotifyStatus } from './notify-status.js';

interface Figure {
  readonly name: string;
  readonly type: 'counter' | 'gauge';
  readonly help: string;
  readonly unit?: string;
  readonly values: readonly { readonly labels: Readonly<Record<string, string>>; readonly value: number }[];
}

export function makeNotifyMetrics({ routes, channels }: NotifyStatus): Figure[] {
  if (routes.length === 0) return [];
  const ofChannel = (value: (channel: NotifyStatus['channels'][number]) => number): Figure['values'] =>
    channels.map((one) => ({ labels: { channel: one.channel }, value: value(one) }));
  const ofRoute = (value: (route: NotifyStatus['routes'][number]) => number): Figure['values'] =>
    routes.map((one) => ({ labels: { route: one.route }, value: value(one) }));
  return [
    {
      ...{ name: 'notify_messages_sent', help: 'Messages about alarms that were delivered.' },
      ...{ type: 'counter', values: ofChannel(({ sent }) => sent) },
    },
    {
      ...{ name: 'notify_attempts_failed', help: 'Attempts to deliver a message that failed.' },
      ...{ type: 'counter', values: ofChannel(({ failed }) => failed) },
    },
    {
      ...{ name: 'notify_messages_waiting', help: 'Messages that wait for their channel.' },
      ...{ type: 'gauge', values: ofChannel(({ waiting }) => waiting) },
    },
    {
      ...{ name: 'notify_failing', help: '1 while a channel fails.' },
      ...{ type: 'gauge', values: ofChannel(({ failingSince }) => (failingSince === null ? 0 : 1)) },
    },
    {
      ...{
        name: 'notify_last_success_seconds',
        help: 'Time of the last delivery, since the epoch; 0: none.',
      },
      ...{ type: 'gauge', unit: 'seconds' },
      values: ofChannel(({ lastSuccessAt }) => (lastSuccessAt ?? 0) / 1_000),
    },
    {
      ...{ name: 'notify_alarms_waiting', help: 'Alarms that wait to be put into a message.' },
      ...{ type: 'gauge', values: ofRoute(({ waiting }) => waiting) },
    },
  ];
}
