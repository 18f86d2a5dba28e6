/**
 * Who listens, and how far they lag behind. Publishing to nobody is the commonest case and is skipped; a subscriber that
 * does not read is cut before what waits for it grows, and never delays a sender.
 */
import type { Socket } from 'node:net';
import { reaches } from './acl.js';

/** Publications under way at which stuck subscribers are looked for, and at which every lagging one is cut. */
const UNDER_WAY_SOFT_MAX = 5_000;
const UNDER_WAY_HARD_MAX = 50_000;
const LOOK_EVERY_MS = 100;
const STUCK_MS = 500;

interface Subscriber {
  readonly socket: Socket;
  readonly filters: Set<string>;
  /** bytes that the network has taken, and when (monotonic ms) that last changed */
  taken: number;
  movedAt: number;
}

export class FanOut {
  /** publications handed to the broker and not delivered yet */
  underWay = 0;
  /** whether somebody may hear what comes from the field */
  isInboundWanted = false;
  /** whether somebody may hear rollups or the journal, which are not retained */
  isOutboundWanted = false;
  readonly #site: string;
  readonly #subscribers = new Map<string, Subscriber>();
  readonly #cut: (socket: Socket, reason: string) => void;
  readonly #changed: () => void;
  #lookedAt = 0;

  /** `changed`: called when what is wanted changes. */
  constructor(site: string, cut: (socket: Socket, reason: string) => void, changed: () => void) {
    this.#site = site;
    this.#cut = cut;
    this.#changed = changed;
  }

  add(client: string, socket: Socket, filter: string): void {
    const known = this.#subscribers.get(client);
    const filters = known?.filters ?? new Set<string>();
    filters.add(filter);
    this.#subscribers.set(client, { socket, filters, taken: -1, movedAt: 0 });
    this.#judge();
  }

  remove(client: string, filters: readonly string[]): void {
    const known = this.#subscribers.get(client);
    if (known === undefined) return;
    for (const filter of filters) known.filters.delete(filter);
    if (known.filters.size === 0) this.#subscribers.delete(client);
    this.#judge();
  }

  /** A session ended. One that is kept goes on collecting what its filters match. */
  forget(client: string, isKept: boolean): void {
    if (!isKept && this.#subscribers.delete(client)) this.#judge();
  }

  began(): void {
    this.underWay += 1;
    if (this.underWay < UNDER_WAY_SOFT_MAX) return;
    const now = performance.now();
    if (now - this.#lookedAt < LOOK_EVERY_MS) return;
    this.#lookedAt = now;
    this.#cutStuck(now);
  }

  ended(): void {
    this.underWay -= 1;
  }

  #cutStuck(now: number): void {
    for (const subscriber of this.#subscribers.values()) {
      const { socket } = subscriber;
      if (socket.destroyed || !socket.writableNeedDrain) continue;
      const taken = socket.bytesWritten - socket.writableLength;
      if (taken !== subscriber.taken) {
        subscriber.taken = taken;
        subscriber.movedAt = now;
      }
      if (now - subscriber.movedAt >= STUCK_MS || this.underWay >= UNDER_WAY_HARD_MAX) {
        this.#cut(socket, `reads nothing while ${this.underWay} messages wait`);
      }
    }
  }

  #judge(): void {
    let inbound = false;
    let outbound = false;
    for (const { filters } of this.#subscribers.values()) {
      for (const filter of filters) {
        inbound ||= reaches(filter, [this.#site, 'in']);
        outbound ||= reaches(filter, [this.#site, 'out']);
      }
    }
    if (inbound === this.isInboundWanted && outbound === this.isOutboundWanted) return;
    this.isInboundWanted = inbound;
    this.isOutboundWanted = outbound;
    this.#changed();
  }
}
