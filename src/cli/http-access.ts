/** Who may use the HTTP interface, from the configuration and what it refers to. */
import type { Access, HttpUser } from '../api/access.js';
import type { Config } from '../config/config.js';
import { isLoopback, type Endpoint } from '../config/endpoint.js';
import { resolveHttpSecrets } from '../config/http-secrets.js';
import type { Log } from '../intake/log-limit.js';

const HOUR_MS = 3_600_000;

/** Throws with every password, certificate or key that cannot be had. */
export function readAccess(config: Config, log: Log): Access {
  const { names, kiosk, metrics, sessionHours } = config.http;
  const { users, tls, warnings } = resolveHttpSecrets(config);
  for (const warning of warnings) log.warn({}, warning);
  return { users, tls, names, kiosk, metrics, sessionMs: Math.round(sessionHours * HOUR_MS) };
}

/** Users of another configuration. Throws too where taking logins away would open the door that it listens at. */
export function readUsers(config: Config, listen: Endpoint, log: Log): readonly HttpUser[] | null {
  const { users } = readAccess(config, log);
  if (users === null && !isLoopback(listen))
    throw new Error(`without http.users the HTTP interface may not go on listening on ${listen.host}`);
  return users;
}
