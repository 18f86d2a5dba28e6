/** Logins on the page: a random token each, known here by its digest only, with an end. They end with the gateway. */
import { createHash, randomBytes } from 'node:crypto';
import type { Visitor } from './access.js';

const SESSIONS_MOST = 512;
const SESSIONS_PER_USER_MOST = 16;
export const TOKEN_PATTERN = /^[A-Za-z0-9_-]{43}$/;

export interface Session {
  readonly visitor: Visitor;
  readonly until: number;
}

export class Sessions {
  /** oldest first */
  readonly #sessions = new Map<string, Session>();

  /** The oldest of the same user, and beyond the bound the oldest of all, makes room. */
  open(visitor: Visitor, until: number): string {
    const own = [...this.#sessions].filter(([, session]) => session.visitor.name === visitor.name);
    for (const [key] of own.slice(0, Math.max(0, own.length - SESSIONS_PER_USER_MOST + 1)))
      this.#sessions.delete(key);
    const token = randomBytes(32).toString('base64url');
    this.#sessions.set(keyOf(token), { visitor, until });
    for (const key of this.#sessions.keys()) {
      if (this.#sessions.size <= SESSIONS_MOST) break;
      this.#sessions.delete(key);
    }
    return token;
  }

  /** null: there is none, or its time is over. */
  find(token: string, now: number): Session | null {
    if (!TOKEN_PATTERN.test(token)) return null;
    const session = this.#sessions.get(keyOf(token));
    if (session !== undefined && session.until > now) return session;
    this.close(token);
    return null;
  }

  close(token: string): void {
    this.#sessions.delete(keyOf(token));
  }

  /** Ends those of users that are not the same any more. */
  keepOnly(isValid: (visitor: Visitor) => boolean): void {
    for (const [key, { visitor }] of this.#sessions) if (!isValid(visitor)) this.#sessions.delete(key);
  }
}

function keyOf(token: string): string {
  return createHash('sha256').update(token).digest('base64');
}
