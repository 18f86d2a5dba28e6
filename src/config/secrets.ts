/**
 * Passwords by reference, read when they are needed and kept out of the configuration, its revision and its errors.
 */
import { readFileSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import type { Config } from './config.js';
import type { SecretReference } from './notify.js';

const SECRET_BYTES_MAX = 4_096;

/** `passwords`: login name to password. `warnings`: files that more people may read than should. */
export type SecretsResult =
  | { readonly ok: true; readonly passwords: ReadonlyMap<string, string>; readonly warnings: string[] }
  | { readonly ok: false; readonly problems: string[] };

export type Secret =
  { readonly password: string; readonly warning: string | null } | { readonly problem: string };

/** Looks up every user's password. `environment` is the process's own unless a test brings another. */
export function resolveSecrets(config: Config, environment: NodeJS.ProcessEnv = process.env): SecretsResult {
  const folder = dirname(config.file);
  const secrets = (config.mqtt.users ?? []).map((user) => ({
    user,
    secret: readSecret(user.password, folder, environment),
  }));
  const problems = secrets.flatMap(({ user, secret }) =>
    'problem' in secret ? [`user "${user.name}": ${secret.problem}`] : [],
  );
  if (problems.length > 0) return { ok: false, problems };
  const found = secrets.flatMap(({ user, secret }) => ('problem' in secret ? [] : [{ user, ...secret }]));
  return {
    ok: true,
    passwords: new Map(found.map(({ user, password }) => [user.name, password])),
    warnings: found.flatMap(({ user, warning }) =>
      warning === null ? [] : [`user "${user.name}": ${warning}`],
    ),
  };
}

/** `folder`: where relative paths of files count from. */
export function readSecret(
  reference: SecretReference,
  folder: string,
  environment: NodeJS.ProcessEnv,
): Secret {
  if ('env' in reference) {
    const password = environment[reference.env] ?? '';
    if (password === '')
      return {
        problem: `environment variable ${reference.env} is not set or empty: set it to the password`,
      };
    return { password, warning: null };
  }
  const path = resolve(folder, reference.file);
  try {
    const { size, mode } = statSync(path);
    if (size > SECRET_BYTES_MAX)
      return { problem: `${path} has ${size} bytes: expected one line with the password` };
    // editors end a file with a line break that nobody means as part of a password
    const password = readFileSync(path, 'utf8').replace(/\r?\n$/, '');
    if (password === '') return { problem: `${path} is empty: write the password into it` };
    if (/[\r\n]/.test(password))
      return { problem: `${path} has several lines: expected one line with the password` };
    const open = process.platform !== 'win32' && (mode & 0o004) !== 0;
    return { password, warning: open ? `${path} may be read by everyone: chmod o-r it` : null };
  } catch (error) {
    const reason = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    return { problem: `${path} cannot be read (${reason}): create it with one line, the password` };
  }
}
