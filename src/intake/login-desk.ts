/** Who may come in, and with which rights; both may change while the gateway runs. */
import { openRights, rightsOf, type Rights } from './acl.js';
import { Credentials, type Login } from './credentials.js';

export class LoginDesk {
  readonly #site: string;
  readonly #open: Rights;
  #logins: readonly Login[] | null = null;
  #credentials: Credentials | null = null;
  #rights = new Map<string, Rights>();

  /** `logins` null: whoever reaches the port comes in. */
  constructor(site: string, logins: readonly Login[] | null) {
    this.#site = site;
    this.#open = openRights(site);
    this.change(logins);
  }

  /** null: wrong name or password. */
  admit(name: string | undefined, password: Uint8Array | undefined): Rights | null {
    if (this.#credentials === null) return this.#open;
    const login = this.#credentials.verify(name, password);
    return login === null ? null : (this.#rights.get(login.name) ?? null);
  }

  /** Takes over other logins. Rights that were given before stay valid only where their login is word for word the same. */
  change(logins: readonly Login[] | null): void {
    const before = new Map((this.#logins ?? []).map((login) => [login.name, JSON.stringify(login)]));
    const rights = new Map<string, Rights>();
    for (const login of logins ?? []) {
      const isSame = before.get(login.name) === JSON.stringify(login);
      const old = isSame ? this.#rights.get(login.name) : undefined;
      rights.set(login.name, old ?? rightsOf(this.#site, login));
    }
    this.#logins = logins;
    this.#credentials = logins === null ? null : new Credentials(logins);
    this.#rights = rights;
  }

  isValid(rights: Rights): boolean {
    return this.#credentials === null ? rights === this.#open : this.#rights.get(rights.name) === rights;
  }
}
