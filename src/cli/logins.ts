/** The logins of the configuration with their passwords, for commands that listen without the gateway. */
import type { Config } from '../config/config.js';
import { resolveSecrets } from '../config/secrets.js';
import type { Login } from '../intake/credentials.js';
import { CommandFailure } from './command.js';

/** null: no users are configured. Throws `CommandFailure` with every password that cannot be had. */
export function readLogins(config: Config): Login[] | null {
  if (config.mqtt.users === null) return null;
  const secrets = resolveSecrets(config);
  if (!secrets.ok) throw new CommandFailure(secrets.problems.map(String).join('\n'));
  return config.mqtt.users.map(({ name, role, sensors, motors }) => {
    const password = secrets.passwords.get(name);
    if (password === undefined) throw new CommandFailure(`The password of ${name} was not found.`);
    return { name, role, sensors, motors, password };
  });
}
