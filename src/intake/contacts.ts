/**
 * Who came by: the last message of each topic, and what was turned away with the rule that did it, since the start. For whoever
 * wires a plant. Bounded: what clients call themselves and their topics must not grow the memory.
 */
import type { Rights } from './acl.js';
import type { Session } from './session.js';

export interface Contact {
  readonly topic: string;
  readonly client: string;
  /** ms by the gateway's clock */
  readonly at: number;
}

export interface Denial {
  readonly kind: 'failed-login' | 'denied-publish' | 'denied-subscribe';
  /** topic or filter; '' of a login */
  readonly topic: string;
  readonly client: string;
  /** user name as it was given; '': none */
  readonly login: string;
  readonly rule: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
}

export interface ContactReport {
  /** of the topics that were asked for */
  readonly heard: readonly Contact[];
  /** newest first */
  readonly denied: readonly Denial[];
}

/** A plant of a thousand motors with two sensors and a drive uses 6,000 topics. */
const TOPICS_MAX = 20_000;
const DENIALS_MAX = 500;
const TEXT_MAX = 128;

export class ContactBook {
  /** of sessions that are over, oldest first */
  readonly #heard = new Map<string, Contact>();
  /** longest quiet first */
  readonly #denied = new Map<string, Denial>();

  /** Takes over what an ending session published. */
  keep(session: Session): void {
    for (const contact of contactsOf(session)) {
      this.#heard.delete(contact.topic);
      this.#heard.set(contact.topic, contact);
      if (this.#heard.size > TOPICS_MAX) dropOldest(this.#heard);
    }
  }

  deny(kind: Denial['kind'], at: number, parts: Pick<Denial, 'topic' | 'client' | 'login' | 'rule'>): void {
    const [topic, client, login] = [cut(parts.topic), cut(parts.client), cut(parts.login)];
    const key = JSON.stringify([kind, topic, client, login]);
    const before = this.#denied.get(key);
    this.#denied.delete(key);
    this.#denied.set(key, {
      ...{ kind, topic, client, login, rule: parts.rule },
      ...{ count: (before?.count ?? 0) + 1, firstAt: before?.firstAt ?? at, lastAt: at },
    });
    if (this.#denied.size > DENIALS_MAX) dropOldest(this.#denied);
  }

  refuseLogin(at: number, client: string, login = ''): void {
    const rule = login === '' ? 'no user name was given' : 'unknown user name or wrong password';
    this.deny('failed-login', at, { topic: '', client, login, rule });
  }

  /** `rights` null: it has not logged in. */
  refuseFilter(at: number, filter: string, client: string, rights: Rights | null): void {
    const { name: login, subscribeRule: rule } = rights ?? {
      name: '',
      subscribeRule: 'it has not logged in',
    };
    this.deny('denied-subscribe', at, { topic: filter, client, login, rule });
  }

  /**
   * `open`: sessions that go on. `topics`: who asks wants to know of a few, and the thread that takes publishes in has no time to
   * tell of all.
   */
  report(open: Iterable<Session>, topics: ReadonlySet<string>): ContactReport {
    const heard = new Map<string, Contact>();
    for (const topic of topics) {
      const contact = this.#heard.get(topic);
      if (contact !== undefined) heard.set(topic, contact);
    }
    for (const session of topics.size === 0 ? [] : open) {
      for (const contact of contactsOf(session)) {
        if (!topics.has(contact.topic)) continue;
        if ((heard.get(contact.topic)?.at ?? -1) < contact.at) heard.set(contact.topic, contact);
      }
    }
    return { heard: [...heard.values()], denied: [...this.#denied.values()].reverse() };
  }
}

function* contactsOf(session: Session): Generator<Contact> {
  for (const { topic, isAllowed, at } of session.slots())
    if (isAllowed && at > 0) yield { topic, client: cut(session.clientId), at };
}

function dropOldest(map: Map<string, unknown>): void {
  for (const key of map.keys()) {
    map.delete(key);
    return;
  }
}

function cut(text: string): string {
  return text.length > TEXT_MAX ? `${text.slice(0, TEXT_MAX - 1)}…` : text;
}
