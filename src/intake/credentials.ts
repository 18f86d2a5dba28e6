/**
 * Who a login is. Passwords are compared by digest and in constant time, an unknown name costs as much as a wrong password.
 */
import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto';

export type Role = 'device' | 'drive' | 'reader';

/** One login as the configuration has it, with its password looked up. */
export interface Login {
  readonly name: string;
  readonly password: string;
  readonly role: Role;
  /** `<motor>/<position>` that a device may publish for */
  readonly sensors: readonly string[];
  /** motors whose drive a drive reporter may publish for */
  readonly motors: readonly string[];
}

export class Credentials {
  readonly #key = randomBytes(32);
  readonly #known = new Map<string, { login: Login; digest: Buffer }>();
  readonly #nobody = randomBytes(32);

  constructor(logins: readonly Login[]) {
    for (const login of logins) {
      this.#known.set(login.name, { login, digest: this.#digest(Buffer.from(login.password, 'utf8')) });
    }
  }

  /** null: unknown name or wrong password, which is not told apart. */
  verify(name: string | undefined, password: Uint8Array | undefined): Login | null {
    const entry = name === undefined ? undefined : this.#known.get(name);
    const given = this.#digest(password ?? new Uint8Array(0));
    const isRight = timingSafeEqual(given, entry?.digest ?? this.#nobody);
    return isRight && entry !== undefined ? entry.login : null;
  }

  #digest(password: Uint8Array): Buffer {
    return createHmac('sha256', this.#key).update(password).digest();
  }
}
