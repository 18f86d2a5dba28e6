/** The channels of a configuration, and one message over one of them. */
import type { Notification } from '../../shared/notification.js';
import { composeTest } from './compose-message.js';
import { sendMail, type MailServer } from './email-sender.js';
import type { NotifyPlan } from './notify-plan.js';
import { EMAIL, webhookKey, type ChannelKey } from './notify-state.js';
import type { Outcome } from './settle-delivery.js';
import { postWebhook, type WebhookTarget } from './webhook-sender.js';

/** Everything that a configuration says of notification, secrets looked up. */
export interface NotifySettings {
  readonly plan: NotifyPlan;
  /** null: no route sends e-mail */
  readonly mail: MailServer | null;
  readonly webhooks: ReadonlyMap<string, WebhookTarget>;
}

export interface TestResult {
  readonly channel: ChannelKey;
  readonly outcome: Outcome;
}

export function listChannels({ mail, webhooks }: NotifySettings): ChannelKey[] {
  return [...(mail === null ? [] : [EMAIL]), ...[...webhooks.keys()].map(webhookKey)];
}

/** Never rejects. `recipients`: of e-mail. `now` in ms; `signal`: give it up. */
export async function sendOver(
  channel: ChannelKey,
  { mail, webhooks }: NotifySettings,
  message: Notification,
  recipients: readonly string[],
  now: number,
  signal: AbortSignal,
): Promise<Outcome> {
  if (channel === EMAIL && mail !== null) return sendMail(mail, message, recipients, signal);
  const target = webhooks.get(channel.slice(webhookKey('').length));
  if (target === undefined) return { kind: 'never', reason: 'the channel is not configured', refused: [] };
  return postWebhook(target, message, now, signal);
}

/** Sends a message that says only that it arrives; one outcome for each channel of the route. null: no such route. */
export async function testRoute(
  settings: NotifySettings,
  name: string,
  now: number,
): Promise<TestResult[] | null> {
  const route = settings.plan.routes.get(name);
  if (route === undefined) return null;
  const message = composeTest(name, `${name}-test-${now.toString(36)}`, now, settings.plan);
  const channels = [
    ...(route.email.length > 0 ? [EMAIL] : []),
    ...(route.webhook === null ? [] : [webhookKey(route.webhook)]),
  ];
  const { signal } = new AbortController();
  return Promise.all(
    channels.map(async (channel) => ({
      channel,
      outcome: await sendOver(channel, settings, message, route.email, now, signal),
    })),
  );
}
