/** The broker's logins, from the configuration and the passwords that it points to. */
import type { Config } from './config/config.js';
import { resolveSecrets } from './config/secrets.js';
import type { Login } from './intake/credentials.js';
import type { Log } from './intake/log-limit.js';

/** null: no users are configured. Throws with every password that cannot be had. */
export function readLogins(config: Config, log: Log): Login[] | null {
  if (config.mqtt.users === null) return null;
  const secrets = resolveSecrets(config);
  if (!secrets.ok) throw new Error(secrets.problems.join('\n'));
  for (const warning of secrets.warnings) log.warn({}, warning);
  return config.mqtt.users.map(({ name, role, sensors, motors }) => {
    return { name, role, sensors, motors, password: secrets.passwords.get(name)! };
  });
}
