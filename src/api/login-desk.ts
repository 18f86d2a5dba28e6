/** Lets people and programs in: by a session of the page, or by name and password with each request. */
import type { Access, HttpUser, Visitor } from './access.js';
import { LoginLimit } from './login-limit.js';
import { digest, hashPassword, isHash, matchesSecret } from './password-hash.js';
import { Sessions, type Session } from './sessions.js';

/** A right password is taken again without the work of its hash for so long. */
const TRUSTED_MS = 300_000;
const TRUSTED_MOST = 256;
/** Attempts that wait for their hash; each takes memory. */
const WAITING_MOST = 8;

export type LoginAnswer =
  | { readonly ok: true; readonly visitor: Visitor }
  | { readonly ok: false; readonly reason: 'wrong' }
  | { readonly ok: false; readonly reason: 'limited'; readonly waitS: number };

export class LoginDesk {
  readonly sessions = new Sessions();
  readonly #limit = new LoginLimit();
  readonly #sessionMs: number;
  #users: ReadonlyMap<string, HttpUser> | null;
  /** digests of names and passwords that were right, with their end */
  readonly #trusted = new Map<string, number>();
  #turn: Promise<unknown> = Promise.resolve();
  #waiting = 0;
  /** hashed for unknown names, so that they take as long as known ones */
  #dummy: Promise<string> | null = null;

  constructor({ users, sessionMs }: Pick<Access, 'users' | 'sessionMs'>) {
    this.#sessionMs = sessionMs;
    this.#users = indexUsers(users);
  }

  /** Nobody is asked who they are. */
  get isOpen(): boolean {
    return this.#users === null;
  }

  /** Another configuration is in force. Sessions of users that are gone or changed end. */
  changeUsers(users: readonly HttpUser[] | null): void {
    const before = this.#users;
    this.#users = indexUsers(users);
    this.#trusted.clear();
    this.sessions.keepOnly(
      ({ name }) => JSON.stringify(before?.get(name)) === JSON.stringify(this.#users?.get(name)),
    );
  }

  /** `address`: of whoever tries. */
  async login(name: string, password: string, address: string, now: number): Promise<LoginAnswer> {
    const user = this.#users?.get(name);
    const key = digest(name, password).toString('base64');
    if (user !== undefined && (this.#trusted.get(key) ?? 0) > now)
      return { ok: true, visitor: visitorOf(user) };
    const waitS = this.#limit.waitS(name, address, now);
    if (waitS > 0) return { ok: false, reason: 'limited', waitS };
    if (this.#waiting >= WAITING_MOST) return { ok: false, reason: 'limited', waitS: 1 };
    const isRight = await this.#inTurn(async () =>
      matchesSecret(password, user?.secret ?? (await this.#decoy())),
    );
    // while it was hashed another configuration may have come into force: what was right then is asked again
    if (user !== this.#users?.get(name)) return { ok: false, reason: 'limited', waitS: 1 };
    if (user === undefined || !isRight) {
      this.#limit.fail(name, address, now);
      return { ok: false, reason: 'wrong' };
    }
    this.#trust(key, now);
    return { ok: true, visitor: visitorOf(user) };
  }

  /** Whether the configuration still has this user in this role. */
  knows({ name, role }: Visitor): boolean {
    return this.#users?.get(name)?.role === role;
  }

  openSession(visitor: Visitor, now: number): { readonly token: string; readonly until: number } {
    const until = now + this.#sessionMs;
    return { token: this.sessions.open(visitor, until), until };
  }

  findSession(token: string, now: number): Session | null {
    return this.sessions.find(token, now);
  }

  #trust(key: string, now: number): void {
    this.#trusted.delete(key);
    this.#trusted.set(key, now + TRUSTED_MS);
    for (const oldest of this.#trusted.keys()) {
      if (this.#trusted.size <= TRUSTED_MOST) break;
      this.#trusted.delete(oldest);
    }
  }

  #decoy(): Promise<string> {
    const areHashed = [...(this.#users?.values() ?? [])].some(({ secret }) => isHash(secret));
    if (!areHashed) return Promise.resolve('');
    return (this.#dummy ??= hashPassword(digest('nobody').toString('base64')));
  }

  /** One hash at a time: each takes 32 MiB and a core for a moment. */
  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    this.#waiting += 1;
    const done = this.#turn.then(work).finally(() => (this.#waiting -= 1));
    this.#turn = done.catch(() => undefined);
    return done;
  }
}

function indexUsers(users: readonly HttpUser[] | null): ReadonlyMap<string, HttpUser> | null {
  return users === null ? null : new Map(users.map((user) => [user.name, user]));
}

function visitorOf({ name, role }: HttpUser): Visitor {
  return { name, role };
}
