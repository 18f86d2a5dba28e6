/**
 * What the notifier must not forget: how far it has read the journal, what waits on each route, what still may escalate, and
 * the messages that are not delivered. Kept whole in one record of the store, so it holds ids of journal entries and no text.
 */
import type { Bucket } from './token-bucket.js';

/** One alarm on one route since that route's last message. Numbers are ids of journal entries; null: it did not happen. */
export interface Item {
  readonly alarm: string;
  /** the raise that it is about; null: it was before our time */
  raised: number | null;
  /** the raise itself is news here */
  isNew: boolean;
  returned: number | null;
  acknowledged: number | null;
  /** how often it was raised since the last message, at least 1 */
  times: number;
  /** the route on which nobody answered */
  escalatedFrom: string | null;
}

/** An alarm that was told and may still be followed up. */
export interface Standing {
  readonly raised: number;
  readonly respondMs: number;
  /** routes that know of it */
  told: string[];
  /** routes on which it was taken out while it waited, because it was hidden; absent: none */
  takenOut?: string[];
  /** escalations that are due at a time, ms */
  waits: { readonly from: string; readonly to: string; readonly at: number }[];
}

export interface RouteState {
  bucket: Bucket;
  /** the limit holds messages up, and that is in the journal */
  isLimited: boolean;
  /** when what waits is to be told, ms; null: nothing waits */
  dueAt: number | null;
  /** by alarm, oldest first */
  items: Map<string, Item>;
  /** alarms beyond what is listed */
  leftOut: number;
}

/** A message from the moment it is put together until every channel has it or has refused it. */
export interface Outgoing {
  readonly id: string;
  readonly route: string;
  readonly at: number;
  readonly items: readonly Item[];
  readonly leftOut: number;
  /** recipients still to be served */
  email: readonly string[];
  /** null: none, or done */
  webhook: string | null;
}

export interface ChannelState {
  /** ms; null: it works as far as known */
  failingSince: number | null;
  /** its failing is in the journal */
  isNoticed: boolean;
  /** messages refused or dropped since then, and the alarms in them */
  lostMessages: number;
  lostAlarms: number;
}

export interface NotifyState {
  /** id of the last journal entry that is taken in */
  cursor: number;
  /** of the next message */
  sequence: number;
  standing: Map<string, Standing>;
  routes: Map<string, RouteState>;
  /** oldest first */
  outbox: Outgoing[];
  channels: Map<string, ChannelState>;
  /** recipients that the mail server refused the last time, which is in the journal */
  refused: string[];
}

/** `email`, or `webhook:NAME`. */
export type ChannelKey = string;
export const EMAIL: ChannelKey = 'email';

export function webhookKey(name: string): ChannelKey {
  return `webhook:${name}`;
}

const VERSION = 1;

export function newState(cursor: number): NotifyState {
  return {
    cursor,
    sequence: 1,
    standing: new Map(),
    routes: new Map(),
    outbox: [],
    channels: new Map(),
    refused: [],
  };
}

export function routeStateOf(state: NotifyState, name: string, burst: number): RouteState {
  let route = state.routes.get(name);
  if (route === undefined) {
    route = { bucket: { tokens: burst, at: 0 }, isLimited: false, dueAt: null, items: new Map(), leftOut: 0 };
    state.routes.set(name, route);
  }
  return route;
}

export function channelStateOf(state: NotifyState, key: ChannelKey): ChannelState {
  let channel = state.channels.get(key);
  if (channel === undefined) {
    channel = { failingSince: null, isNoticed: false, lostMessages: 0, lostAlarms: 0 };
    state.channels.set(key, channel);
  }
  return channel;
}

export function writeState(state: NotifyState): string {
  const { standing, routes, channels, ...rest } = state;
  const maps = {
    standing: [...standing],
    routes: [...routes].map(([name, route]) => [name, { ...route, items: [...route.items.values()] }]),
    channels: [...channels],
  };
  return JSON.stringify({ version: VERSION, ...rest, ...maps });
}

/** null: none is kept, or another version wrote it. */
export function readState(json: string | null): NotifyState | null {
  if (json === null) return null;
  const kept = JSON.parse(json) as Record<string, unknown>;
  if (kept['version'] !== VERSION) return null;
  const routes = kept['routes'] as [string, Omit<RouteState, 'items'> & { items: Item[] }][];
  return {
    cursor: kept['cursor'] as number,
    sequence: kept['sequence'] as number,
    standing: new Map(kept['standing'] as [string, Standing][]),
    routes: new Map(
      routes.map(([name, route]) => [
        name,
        { ...route, items: new Map(route.items.map((item) => [item.alarm, item])) },
      ]),
    ),
    outbox: kept['outbox'] as Outgoing[],
    channels: new Map(kept['channels'] as [string, ChannelState][]),
    refused: kept['refused'] as string[],
  };
}
