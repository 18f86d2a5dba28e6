/** Who may do what over HTTP: three roles, each of which may also do what the one before may. */

export const ROLES = ['view', 'operate', 'engineer'] as const;
export type Role = (typeof ROLES)[number];

/** `kiosk`: as `view`, and without a login where the site has a screen on the wall. `open`: without a login. */
export type Need = 'open' | 'kiosk' | Role;

export interface Visitor {
  readonly name: string;
  readonly role: Role;
}

/** A user as the configuration has it. `secret`: the password, or its hash, see `password-hash.ts`. */
export interface HttpUser extends Visitor {
  readonly secret: string;
}

/** How the server is reached, and by whom. */
export interface Access {
  /** null: whoever is on this machine may do everything */
  readonly users: readonly HttpUser[] | null;
  /** host names that a request may name, beside those of the loopback and of the address that it came to */
  readonly names: readonly string[];
  readonly tls: { readonly cert: string; readonly key: string } | null;
  readonly kiosk: boolean;
  readonly metrics: 'login' | 'open';
  readonly sessionMs: number;
}

export const OPEN_ACCESS: Access = {
  ...{ users: null, names: [], tls: null, kiosk: false, metrics: 'open', sessionMs: 43_200_000 },
};

/** What a screen on the wall reads: nothing here names a person's password, and nothing can be changed by it. */
const KIOSK_READS = ['/api/v1/motors', '/api/v1/alarms', '/api/v1/strips', '/api/v1/live'];

export function mayDo({ role }: Visitor, need: Need): boolean {
  if (need === 'open' || need === 'kiosk') return true;
  return ROLES.indexOf(role) >= ROLES.indexOf(need);
}

/**
 * What a request needs. `stated`: by its route; absent: reading asks for `view` and everything else for `engineer`, so that a
 * route that says nothing is closed to most. What is not below `/api` is the page itself, which must come before its login.
 */
export function needOf(method: string, path: string, stated: Need | undefined, access: Access): Need {
  if (stated !== undefined) return stated;
  if (path === '/metrics') return access.metrics === 'open' ? 'open' : 'view';
  if (!path.startsWith('/api/')) return 'open';
  const isRead = method === 'GET' || method === 'HEAD' || method === 'OPTIONS';
  if (!isRead) return 'engineer';
  return KIOSK_READS.includes(path) ? 'kiosk' : 'view';
}
