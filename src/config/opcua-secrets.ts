/** The passwords behind `opcua.users`, read when the server starts. */
import { dirname } from 'node:path';
import type { Config } from './config.js';
import { readSecret } from './secrets.js';

export interface OpcuaLogin {
  readonly name: string;
  readonly password: string;
  readonly role: 'viewer' | 'operator';
}

/** Throws with every password that cannot be had. `warnings`: files that more people may read than should. */
export function resolveOpcuaSecrets(
  config: Config,
  environment: NodeJS.ProcessEnv = process.env,
): { readonly users: readonly OpcuaLogin[]; readonly warnings: readonly string[] } {
  const problems: string[] = [];
  const warnings: string[] = [];
  const users = (config.opcua?.users ?? []).flatMap(({ name, role, password }) => {
    const secret = readSecret(password, dirname(config.file), environment);
    if ('problem' in secret) {
      problems.push(`opcua user "${name}": ${secret.problem}`);
      return [];
    }
    if (secret.warning !== null) warnings.push(`opcua user "${name}": ${secret.warning}`);
    return [{ name, password: secret.password, role }];
  });
  if (problems.length > 0) throw new Error(problems.join('; '));
  return { users, warnings };
}
