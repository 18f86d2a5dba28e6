/** What came of an attempt, into the state: a message leaves the outbox when a channel has it or will never take it. */
import type { NotifyPlan } from './notify-plan.js';
import { EMAIL, channelStateOf, routeStateOf } from './notify-state.js';
import type { ChannelKey, ChannelState, NotifyState, Outgoing } from './notify-state.js';
import { countAlarms, isFor, withoutChannel } from './plan-messages.js';

export interface Refusal {
  readonly to: string;
  readonly reason: string;
}

export type Outcome =
  /** `refused`: recipients that get nothing, though others did; `later`: recipients that the server wants asked again */
  | { readonly kind: 'delivered'; readonly refused: readonly Refusal[]; readonly later: readonly string[] }
  /** `scope`: whether other messages would fare the same. `retryAfterMs` null: as the sender thinks best */
  | {
      readonly kind: 'later';
      readonly scope: 'channel' | 'message';
      readonly reason: string;
      readonly retryAfterMs: number | null;
    }
  | { readonly kind: 'never'; readonly reason: string; readonly refused: readonly Refusal[] };

/** Changes `state`; answers with sentences for the journal. A message that is not in the outbox any more changes only the health of the channel. */
export function settleDelivery(
  state: NotifyState,
  id: string,
  channel: ChannelKey,
  outcome: Outcome,
  plan: NotifyPlan,
  now: number,
): readonly string[] {
  const notes: string[] = [];
  const message = state.outbox.find((one) => one.id === id && isFor(one, channel));
  const health = channelStateOf(state, channel);
  if (outcome.kind === 'later') {
    noteFailing(health, channel, outcome.reason, outcome.scope, plan, now, notes);
    return notes;
  }
  if (outcome.kind === 'delivered') noteWorking(health, channel, now, notes);
  else if (message !== undefined) noteLost(health, channel, message, outcome.reason, now, notes);
  if (channel === EMAIL && message !== undefined) noteRefusals(state, message, outcome.refused, notes);
  if (message !== undefined) {
    const later = outcome.kind === 'delivered' ? outcome.later : [];
    const rest = later.length > 0 ? { ...message, email: later } : withoutChannel(message, channel);
    state.outbox = state.outbox.flatMap((one) => (one.id === id ? (rest ?? []) : one));
  }
  return notes;
}

function noteFailing(
  health: ChannelState,
  channel: ChannelKey,
  reason: string,
  scope: 'channel' | 'message',
  plan: NotifyPlan,
  now: number,
  notes: string[],
): void {
  if (scope === 'message') return;
  health.failingSince ??= now;
  if (health.isNoticed || now - health.failingSince < plan.failingMs) return;
  health.isNoticed = true;
  const since = new Date(health.failingSince).toISOString();
  notes.push(`notification by ${channel} has been failing since ${since}: ${reason}; messages wait`);
}

function noteLost(
  health: ChannelState,
  channel: ChannelKey,
  message: Outgoing,
  reason: string,
  now: number,
  notes: string[],
): void {
  health.lostMessages += 1;
  health.lostAlarms += countAlarms(message);
  health.failingSince ??= now;
  if (health.isNoticed) return;
  health.isNoticed = true;
  notes.push(
    `notification by ${channel}: message ${message.id} with ${countAlarms(message)} alarms was refused for good: ${reason}`,
  );
}

function noteWorking(health: ChannelState, channel: ChannelKey, now: number, notes: string[]): void {
  if (health.isNoticed || health.lostMessages > 0) {
    const lost =
      health.lostMessages === 0
        ? 'nothing was lost'
        : `${health.lostMessages} messages with about ${health.lostAlarms} alarms were refused or dropped meanwhile`;
    notes.push(`notification by ${channel} works again: ${lost}`);
  }
  Object.assign(health, { failingSince: null, isNoticed: false, lostMessages: 0, lostAlarms: 0 });
}

/** Each recipient once, until the server takes it again. */
function noteRefusals(
  state: NotifyState,
  message: Outgoing,
  refused: readonly Refusal[],
  notes: string[],
): void {
  const bad = new Map(refused.map(({ to, reason }) => [to, reason]));
  for (const [to, reason] of bad) {
    if (state.refused.includes(to)) continue;
    notes.push(`the mail server refuses ${to}: ${reason}; it gets no messages until that is mended`);
    state.refused.push(to);
  }
  const taken = message.email.filter((to) => !bad.has(to));
  state.refused = state.refused.filter((to) => !taken.includes(to));
}

/**
 * Brings what was kept in line with a changed configuration: what belongs to a route or channel that is gone goes, and is
 * noted. Changes `state`; answers with sentences for the journal.
 */
export function fitState(state: NotifyState, plan: NotifyPlan): readonly string[] {
  const notes: string[] = [];
  for (const [name, { items, leftOut }] of state.routes) {
    if (plan.routes.has(name)) continue;
    if (items.size + leftOut > 0)
      notes.push(`notification route ${name} is gone; ${items.size + leftOut} alarms waited there untold`);
    state.routes.delete(name);
  }
  state.outbox = state.outbox.flatMap((message) => {
    const route = plan.routes.get(message.route);
    const email = message.email.filter((to) => route?.email.includes(to) === true);
    const webhook = route?.webhook === message.webhook ? message.webhook : null;
    if (email.length > 0 || webhook !== null) return { ...message, email, webhook };
    notes.push(`message ${message.id} with ${countAlarms(message)} alarms went nowhere: its channel is gone`);
    return [];
  });
  const known = new Set([...plan.routes.values()].flatMap(({ email }) => email));
  state.refused = state.refused.filter((to) => known.has(to));
  for (const route of plan.routes.values()) routeStateOf(state, route.name, route.burst);
  return notes;
}
