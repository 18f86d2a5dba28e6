/** How notification stands, for the status route and the metrics. Times in ms; null: never yet, or not so. */
import type { LaneHealth } from './lane.js';
import type { NotifyPlan } from './notify-plan.js';
import type { ChannelKey, NotifyState } from './notify-state.js';
import { isFor } from './plan-messages.js';
import { isOpen } from './routes.js';

export interface RouteStatus {
  readonly route: string;
  readonly isOpen: boolean;
  /** alarms that wait to be put into a message */
  readonly waiting: number;
  readonly dueAt: number | null;
  /** its limit holds messages up */
  readonly isLimited: boolean;
  /** alarms that it may still escalate */
  readonly escalating: number;
}

export interface ChannelStatus extends LaneHealth {
  readonly channel: ChannelKey;
  /** messages that wait to be delivered */
  readonly waiting: number;
  readonly failingSince: number | null;
  /** refused or dropped since it began to fail */
  readonly lostMessages: number;
  /** e-mail: recipients that the server refused the last time */
  readonly refused: readonly string[];
}

export interface NotifyStatus {
  readonly routes: readonly RouteStatus[];
  readonly channels: readonly ChannelStatus[];
}

export function describeStatus(
  plan: NotifyPlan,
  state: NotifyState | null,
  health: ReadonlyMap<ChannelKey, LaneHealth>,
  now: number,
): NotifyStatus {
  const waits = [...(state?.standing.values() ?? [])].flatMap((standing) => standing.waits);
  return {
    routes: [...plan.routes.values()].map((route) => {
      const waiting = state?.routes.get(route.name);
      return {
        route: route.name,
        isOpen: isOpen(route, now, plan.timeZone),
        waiting: (waiting?.items.size ?? 0) + (waiting?.leftOut ?? 0),
        dueAt: waiting?.dueAt ?? null,
        isLimited: waiting?.isLimited ?? false,
        escalating: waits.filter(({ from }) => from === route.name).length,
      };
    }),
    channels: [...health].map(([channel, figures]) => ({
      ...{ channel, ...figures },
      waiting: state?.outbox.filter((message) => isFor(message, channel)).length ?? 0,
      failingSince: state?.channels.get(channel)?.failingSince ?? null,
      lostMessages: state?.channels.get(channel)?.lostMessages ?? 0,
      refused: channel === 'email' ? (state?.refused ?? []) : [],
    })),
  };
}
