/** Passwords, tokens and signing secrets of notification, looked up when they are needed and kept nowhere but in memory. */
import { readFileSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import type { Config } from './config.js';
import type { SecretReference, WebhookConfig } from './notify.js';
import { readSecret } from './secrets.js';

export interface NotifySecrets {
  /** '' where there is no login */
  readonly mailPassword: string;
  /** certificate authorities in PEM; null: none are configured */
  readonly mailAuthorities: string | null;
  /** by name; `authorization` null: none is asked for */
  readonly webhooks: ReadonlyMap<string, { readonly secret: string; readonly authorization: string | null }>;
  /** files that more people may read than should */
  readonly warnings: readonly string[];
}

/** A secret shorter than this can be guessed. */
const SECRET_LENGTH_MIN = 16;

/** Throws with every one that cannot be had, a line each. */
export function resolveNotifySecrets(
  config: Config,
  environment: NodeJS.ProcessEnv = process.env,
): NotifySecrets {
  const folder = dirname(config.file);
  const problems: string[] = [];
  const warnings: string[] = [];
  const read = (what: string, reference: SecretReference): string => {
    const found = readSecret(reference, folder, environment);
    if ('problem' in found) {
      problems.push(`${what}: ${found.problem}`);
      return '';
    }
    if (found.warning !== null) warnings.push(`${what}: ${found.warning}`);
    return found.password;
  };
  const { mail, webhooks } = config.notify;
  const login = mail?.login ?? null;
  const caFile = mail?.caFile ?? null;
  const mailPassword = login === null ? '' : read('notify.mail', login.password);
  const mailAuthorities = caFile === null ? null : readPem(resolve(folder, caFile), problems);
  const secrets = new Map(
    Object.entries(webhooks).map(([name, webhook]) => {
      const what = `notify.webhooks.${name}`;
      const secret = read(what, webhook.secret);
      if (secret !== '' && secret.length < SECRET_LENGTH_MIN)
        problems.push(`${what}: the signing secret has fewer than ${SECRET_LENGTH_MIN} characters`);
      return [name, { secret, authorization: authorize(webhook, (one) => read(what, one)) }] as const;
    }),
  );
  if (problems.length > 0) throw new Error(problems.join('\n'));
  return { mailPassword, mailAuthorities, webhooks: secrets, warnings };
}

/** Source: RFC 6750 for bearer, RFC 7617 for basic. */
function authorize(
  { authorization }: WebhookConfig,
  read: (reference: SecretReference) => string,
): string | null {
  if (authorization === null) return null;
  if (authorization.kind === 'bearer') return `Bearer ${read(authorization.token)}`;
  const login = `${authorization.user}:${read(authorization.password)}`;
  return `Basic ${Buffer.from(login, 'utf8').toString('base64')}`;
}

function readPem(path: string, problems: string[]): string | null {
  try {
    const text = readFileSync(path, 'utf8');
    if (text.includes('-----BEGIN CERTIFICATE-----')) return text;
    problems.push(`notify.mail: ${path} holds no certificate in PEM`);
  } catch (error) {
    const reason = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    problems.push(`notify.mail: ${path} cannot be read (${reason}): put the certificate authorities there`);
  }
  return null;
}
