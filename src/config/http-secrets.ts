/** What the HTTP server needs from files and the environment: passwords of its users, certificate and key. */
import { readFileSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import type { Config, HttpRole } from './config.js';
import { readSecret } from './secrets.js';

export interface HttpSecrets {
  /** `secret`: a password, or its hash; null: no users are configured */
  readonly users:
    readonly { readonly name: string; readonly role: HttpRole; readonly secret: string }[] | null;
  /** PEM; null: plain HTTP */
  readonly tls: { readonly cert: string; readonly key: string } | null;
  /** files that more people may read than should */
  readonly warnings: readonly string[];
}

/** Throws with everything that cannot be had, a line each. */
export function resolveHttpSecrets(
  { file, http }: Config,
  environment: NodeJS.ProcessEnv = process.env,
): HttpSecrets {
  const folder = dirname(file);
  const problems: string[] = [];
  const warnings: string[] = [];
  const users = (http.users ?? []).map(({ name, role, password }) => {
    const found = readSecret(password, folder, environment);
    const what = `http.users: "${name}"`;
    if ('problem' in found) problems.push(`${what}: ${found.problem}`);
    else if (found.warning !== null) warnings.push(`${what}: ${found.warning}`);
    return { name, role, secret: 'problem' in found ? '' : found.password };
  });
  const readPem = (path: string, mark: string): string => {
    const whole = resolve(folder, path);
    try {
      const text = readFileSync(whole, 'utf8');
      if (!text.includes(mark)) problems.push(`http.tls: ${whole} holds no ${mark}`);
      return text;
    } catch (error) {
      const reason = error instanceof Error && 'code' in error ? String(error.code) : String(error);
      problems.push(`http.tls: ${whole} cannot be read (${reason})`);
      return '';
    }
  };
  const tls =
    http.tls === null
      ? null
      : {
          cert: readPem(http.tls.certFile, '-----BEGIN CERTIFICATE-----'),
          key: readPem(http.tls.keyFile, 'PRIVATE KEY-----'),
        };
  if (problems.length > 0) throw new Error(problems.join('\n'));
  return { users: http.users === null ? null : users, tls, warnings };
}
