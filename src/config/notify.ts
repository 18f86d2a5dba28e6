/** Notification after defaults and braces. Secrets stay references here; see notify-secrets.ts. */
import { expandBraces } from './expansion.js';
import { WEEKDAYS } from './notify-schema.js';
import type { FileContent } from './schema.js';

/** A file relative to the folder of the configuration, or the name of an environment variable. */
export type SecretReference = { readonly file: string } | { readonly env: string };

type FileNotify = FileContent['notify'];
type FileMail = NonNullable<FileNotify['mail']>;
type FileWebhook = FileNotify['webhooks'][string];
type FileRoute = FileNotify['routes'][string];

export interface MailConfig extends Pick<FileMail, 'host' | 'security' | 'from' | 'timeoutMs'> {
  readonly port: number;
  /** null: no login */
  readonly login: { readonly user: string; readonly password: SecretReference } | null;
  readonly caFile: string | null;
}

export interface WebhookConfig extends Pick<FileWebhook, 'url' | 'timeoutMs'> {
  readonly secret: SecretReference;
  /** null: none is asked for */
  readonly authorization:
    | { readonly kind: 'bearer'; readonly token: SecretReference }
    | { readonly kind: 'basic'; readonly user: string; readonly password: SecretReference }
    | null;
}

export interface WindowConfig {
  /** 0: Sunday */
  readonly days: readonly number[];
  /** minutes since midnight */
  readonly from: number;
  readonly to: number;
}

/** Null: takes everything, or: there is none. */
export interface RouteConfig extends Pick<
  FileRoute,
  'outside' | 'onlyEscalated' | 'tellReturns' | 'tellAcknowledgements' | 'burst' | 'messagesPerHour'
> {
  readonly priorities: readonly ('low' | 'medium' | 'high')[] | null;
  readonly zones: readonly string[] | null;
  readonly motors: readonly string[] | null;
  readonly kinds: readonly string[] | null;
  readonly windows: readonly WindowConfig[];
  readonly email: readonly string[];
  readonly webhook: string | null;
  readonly escalateTo: string | null;
}

export interface NotifyConfig extends Pick<FileNotify, 'waitMs' | 'queueMax' | 'failingMs' | 'respondMs'> {
  /** null: no route can send e-mail */
  readonly mail: MailConfig | null;
  readonly webhooks: Readonly<Record<string, WebhookConfig>>;
  readonly routes: Readonly<Record<string, RouteConfig>>;
}

const PORTS = { starttls: 587, tls: 465, none: 25 } as const;

export function buildNotify(content: FileNotify): NotifyConfig {
  const { waitMs, queueMax, failingMs, respondMs, mail, webhooks, routes } = content;
  return {
    ...{ waitMs, queueMax, failingMs, respondMs },
    mail: mail === undefined ? null : buildMail(mail),
    webhooks: mapValues(webhooks, buildWebhook),
    routes: mapValues(routes, buildRoute),
  };
}

function mapValues<T, U>(record: Readonly<Record<string, T>>, build: (value: T) => U): Record<string, U> {
  return Object.fromEntries(Object.entries(record).map(([key, value]) => [key, build(value)]));
}

/** The cross-checks see to it that there is one of the two. */
function referTo(file: string | undefined, env: string | undefined): SecretReference {
  return file === undefined ? { env: env ?? '' } : { file };
}

function buildMail(mail: FileMail): MailConfig {
  const { host, security, from, timeoutMs, user, passwordFile, passwordEnv, caFile } = mail;
  return {
    ...{ host, security, from, timeoutMs, port: mail.port ?? PORTS[security], caFile: caFile ?? null },
    login: user === undefined ? null : { user, password: referTo(passwordFile, passwordEnv) },
  };
}

function buildWebhook(webhook: FileWebhook): WebhookConfig {
  const { url, timeoutMs, secretFile, secretEnv, tokenFile, tokenEnv, user } = webhook;
  const secret = referTo(secretFile, secretEnv);
  if (tokenFile !== undefined || tokenEnv !== undefined)
    return { url, timeoutMs, secret, authorization: { kind: 'bearer', token: referTo(tokenFile, tokenEnv) } };
  const password = referTo(webhook.passwordFile, webhook.passwordEnv);
  return {
    url,
    timeoutMs,
    secret,
    authorization: user === undefined ? null : { kind: 'basic', user, password },
  };
}

function buildRoute(route: FileRoute): RouteConfig {
  const { priorities, zones, motors, kinds, windows, email, webhook, escalateTo, ...rest } = route;
  return {
    ...rest,
    ...{ priorities: priorities ?? null, zones: zones ?? null, kinds: kinds ?? null },
    motors: motors === undefined ? null : [...new Set(motors.flatMap(expand))],
    windows: (windows ?? []).map(({ days, from, to }) => ({
      days: (days ?? WEEKDAYS).map((day) => WEEKDAYS.indexOf(day)),
      from: toMinutes(from),
      to: toMinutes(to),
    })),
    ...{ email: email ?? [], webhook: webhook ?? null, escalateTo: escalateTo ?? null },
  };
}

function expand(pattern: string): string[] {
  const expansion = expandBraces(pattern);
  return expansion.ok ? expansion.texts : [];
}

function toMinutes(clock: string): number {
  return Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3));
}
