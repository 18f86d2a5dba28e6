/**
 * The planner: what was kept, new journal entries and the time make messages, notes for the journal and the time to look
 * again. It reads no clock and sends nothing, so that every story of it can be told as a table.
 */
import type { KnownEntry } from './journal-page.js';
import type { NotifyPlan } from './notify-plan.js';
import { EMAIL, channelStateOf, webhookKey, type ChannelKey } from './notify-state.js';
import type { Item, NotifyState, Outgoing, RouteState } from './notify-state.js';
import { isOpen, type Route } from './routes.js';
import { addItem, takeEntry } from './take-entry.js';
import { isFull, nextTokenAt, takeToken, tokensAt } from './token-bucket.js';

/** Alarms in one message; a person reads no more, and what is more comes in the next. */
export const MESSAGE_ITEMS_MAX = 500;
/** A closed window is looked at each minute: arithmetic across a clock change cannot go wrong where there is none. */
const WINDOW_LOOK_MS = 60_000;

export interface Planned {
  /** sentences for the journal */
  readonly notes: readonly string[];
  /** when to look again though nothing comes, ms; null: when something comes */
  readonly wakeAt: number | null;
}

/** Changes `state`, as copying it would take longer than the rest; messages are added to its outbox. */
export function planMessages(
  state: NotifyState,
  entries: readonly KnownEntry[],
  plan: NotifyPlan,
  now: number,
): Planned {
  const notes: string[] = [];
  for (const entry of entries) takeEntry(state, entry, plan, now);
  escalate(state, plan, now);
  for (const route of plan.routes.values()) {
    const waiting = state.routes.get(route.name);
    if (waiting !== undefined) putTogether(state, route, waiting, plan, now, notes);
  }
  boundQueues(state, plan, notes);
  return { notes, wakeAt: findWakeTime(state, plan, now) };
}

/** An escalation goes to its route at any hour and whatever that route takes by itself: somebody has to hear of it. */
function escalate(state: NotifyState, plan: NotifyPlan, now: number): void {
  for (const [alarm, standing] of state.standing) {
    const due = standing.waits.filter(({ at }) => at <= now);
    if (due.length === 0) continue;
    standing.waits = standing.waits.filter(({ at }) => at > now);
    for (const { from, to } of due) {
      const route = plan.routes.get(to);
      if (route === undefined) continue;
      addItem(state, route, plan, now, { alarm, raised: standing.raised, isNew: true, escalatedFrom: from });
      if (!standing.told.includes(to)) standing.told.push(to);
      if (route.escalateTo !== null)
        standing.waits.push({ from: to, to: route.escalateTo, at: now + standing.respondMs });
    }
  }
}

function putTogether(
  state: NotifyState,
  route: Route,
  waiting: RouteState,
  plan: NotifyPlan,
  now: number,
  notes: string[],
): void {
  while (waiting.dueAt !== null && waiting.dueAt <= now && maySend(route, waiting, plan, now)) {
    const bucket = takeToken(waiting.bucket, route, now);
    if (bucket === null) {
      noteLimit(route, waiting, notes);
      return;
    }
    waiting.bucket = bucket;
    const items = [...waiting.items.values()].slice(0, MESSAGE_ITEMS_MAX);
    for (const { alarm } of items) waiting.items.delete(alarm);
    const leftOut = waiting.items.size === 0 ? waiting.leftOut : 0;
    waiting.leftOut -= leftOut;
    if (waiting.items.size === 0) waiting.dueAt = null;
    if (items.length > 0 || leftOut > 0) state.outbox.push(wrap(state, route, items, leftOut, now));
  }
  if (waiting.isLimited && isFull(waiting.bucket, route, now)) waiting.isLimited = false;
}

function maySend(route: Route, waiting: RouteState, plan: NotifyPlan, now: number): boolean {
  if (route.outside === 'skip') return true; // what waits here came while it was open
  const isEscalated = [...waiting.items.values()].some(({ escalatedFrom }) => escalatedFrom !== null);
  return isEscalated || isOpen(route, now, plan.timeZone);
}

function noteLimit(route: Route, waiting: RouteState, notes: string[]): void {
  if (waiting.isLimited) return;
  waiting.isLimited = true;
  notes.push(
    `notification route ${route.name}: more than ${route.burst} messages at once or ${route.messagesPerHour} an hour; ` +
      'what comes now waits and goes together in the next message',
  );
}

/** The number makes it unique in this store, the time also beside a store that was restored from a backup. */
function wrap(
  state: NotifyState,
  route: Route,
  items: readonly Item[],
  leftOut: number,
  now: number,
): Outgoing {
  const id = `${route.name}-${state.sequence}-${now.toString(36)}`;
  state.sequence += 1;
  return { id, route: route.name, at: now, items, leftOut, email: route.email, webhook: route.webhook };
}

/** Whether the message still has to go over a channel. */
export function isFor(message: Outgoing, channel: ChannelKey): boolean {
  return channel === EMAIL
    ? message.email.length > 0
    : message.webhook !== null && webhookKey(message.webhook) === channel;
}

/** The message without a channel; null: nothing is left of it. */
export function withoutChannel(message: Outgoing, channel: ChannelKey): Outgoing | null {
  const rest = channel === EMAIL ? { ...message, email: [] } : { ...message, webhook: null };
  return rest.email.length === 0 && rest.webhook === null ? null : rest;
}

export function countAlarms(message: Outgoing): number {
  return message.items.length + message.leftOut;
}

function boundQueues(state: NotifyState, plan: NotifyPlan, notes: string[]): void {
  const channels = new Set(
    state.outbox.flatMap(({ email, webhook }) => [
      ...(email.length > 0 ? [EMAIL] : []),
      ...(webhook === null ? [] : [webhookKey(webhook)]),
    ]),
  );
  for (const channel of channels) {
    const queue = state.outbox.filter((message) => isFor(message, channel));
    const surplus = queue.slice(0, Math.max(0, queue.length - plan.queueMax));
    if (surplus.length === 0) continue;
    const dropped = new Set(surplus.map(({ id }) => id));
    state.outbox = state.outbox.flatMap((message) =>
      dropped.has(message.id) ? (withoutChannel(message, channel) ?? []) : message,
    );
    const alarms = surplus.reduce((sum, message) => sum + countAlarms(message), 0);
    const health = channelStateOf(state, channel);
    health.lostMessages += surplus.length;
    health.lostAlarms += alarms;
    notes.push(
      `notification by ${channel}: ${surplus.length} of the oldest messages, about ${alarms} alarms, dropped: ` +
        `more than ${plan.queueMax} wait`,
    );
  }
}

function findWakeTime(state: NotifyState, plan: NotifyPlan, now: number): number | null {
  const times: number[] = [];
  for (const route of plan.routes.values()) {
    const waiting = state.routes.get(route.name);
    if (waiting === undefined || waiting.dueAt === null) continue;
    if (waiting.dueAt > now) times.push(waiting.dueAt);
    else if (tokensAt(waiting.bucket, route, now) < 1) times.push(nextTokenAt(waiting.bucket, route, now));
    else times.push(now - (now % WINDOW_LOOK_MS) + WINDOW_LOOK_MS);
  }
  for (const { waits } of state.standing.values()) for (const { at } of waits) times.push(at);
  return times.length === 0 ? null : Math.max(now + 1, Math.min(...times));
}
