/**
 * Who listens, and how far they lag behind. Publishing to nobody is the commonest case and is skipped; a subscriber that
 * does not read is cut before what waits for it grows, and never delays a sender. Where all of them read and the library
 * is too slow, senders wait.
 * Messages enter the library's emitter one after the other and few at a time. It numbers them when they are handed over
 * but emits retained ones, and those of QoS 1, later than others, and then takes a lower number for a duplicate and drops
 * it. And an emitter that has to queue them itself works its queue off recursively: thousands of messages to nobody end in
 * an overflow of the stack.
 */
import type { Socket } from 'node:net';
import { reaches } from './acl.js';
import type { Sluice } from './sluice.js';

/** Messages in the library's hands at a time; it begins to queue at 100. */
const AT_ONCE = 64;
/** Messages that wait at which stuck subscribers are looked for, and at which every lagging one is cut. */
const WAITING_SOFT_MAX = 1_000;
const WAITING_HARD_MAX = 50_000;
const WAITING_BYTES_MAX = 67_108_864;
/** Where as many wait although nobody lags, the library is behind its senders, and they must wait for it. */
const SHUT_MAX = 20_000;
const SHUT_BYTES_MAX = 33_554_432;
const SHUT_LOOK_MS = 10;
const LOOK_EVERY_MS = 100;
const STUCK_MS = 500;

interface Subscriber {
  readonly socket: Socket;
  readonly filters: Set<string>;
  /** bytes that the network has taken, and when (monotonic ms) that last changed */
  taken: number;
  movedAt: number;
}

/** The library's own. */
interface Emitter {
  emit(packet: object, done: () => void): unknown;
}

interface Waiting {
  readonly bytes: number;
  readonly send: (done: () => void) => void;
}

export class FanOut implements Sluice {
  /** whether somebody may hear what comes from the field */
  isInboundWanted = false;
  /** whether somebody may hear what the gateway says */
  isOutboundWanted = false;
  readonly #site: string;
  readonly #subscribers = new Map<string, Subscriber>();
  readonly #cut: (socket: Socket, reason: string) => void;
  readonly #changed: () => void;
  #waiting: Waiting[] = [];
  #head = 0;
  #waitingBytes = 0;
  #atOnce = 0;
  #turn = 0;
  /** turn of the message that is handed over and not emitted yet; 0: none */
  #entering = 0;
  #isDraining = false;
  #lookedAt = 0;
  #held: (() => void)[] = [];

  /** `changed`: called when what is wanted changes. */
  constructor(site: string, cut: (socket: Socket, reason: string) => void, changed: () => void) {
    this.#site = site;
    this.#cut = cut;
    this.#changed = changed;
  }

  /** Publications not delivered yet. */
  get underWay(): number {
    return this.#waiting.length - this.#head + this.#atOnce;
  }

  add(client: string, socket: Socket, filter: string): void {
    const filters = this.#subscribers.get(client)?.filters ?? new Set<string>();
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

  /** Sends now or when there is room, in order. `send` must call back once, now or later. */
  deliver(bytes: number, send: (done: () => void) => void): void {
    this.#waiting.push({ bytes, send });
    this.#waitingBytes += bytes;
    this.#drain();
    const waiting = this.#waiting.length - this.#head;
    if (waiting < WAITING_SOFT_MAX && this.#waitingBytes < WAITING_BYTES_MAX) return;
    const isBeyond = waiting >= WAITING_HARD_MAX || this.#waitingBytes >= WAITING_BYTES_MAX;
    const now = performance.now();
    if (!isBeyond && now - this.#lookedAt < LOOK_EVERY_MS) return;
    this.#lookedAt = now;
    this.#cutStuck(now, isBeyond);
  }

  isShut(): boolean {
    if (this.#waiting.length - this.#head < SHUT_MAX && this.#waitingBytes < SHUT_BYTES_MAX) return false;
    for (const { socket } of this.#subscribers.values()) if (socket.writableNeedDrain) return false;
    return true;
  }

  wait(wake: () => void): void {
    if (this.#held.push(wake) === 1) this.#wakeLater();
  }

  #wakeLater(): void {
    const look = (): void => {
      if (this.isShut()) return this.#wakeLater();
      const held = this.#held;
      this.#held = [];
      for (const wake of held) wake();
    };
    setTimeout(look, SHUT_LOOK_MS).unref();
  }

  /** When the library has emitted the message that was handed over last, the next one may follow. */
  follow(emitter: Emitter): void {
    const emit = emitter.emit.bind(emitter);
    emitter.emit = (packet, done) => {
      emit(packet, done);
      this.#entering = 0;
      this.#drain();
    };
  }

  #drain(): void {
    if (this.#isDraining) return;
    this.#isDraining = true;
    while (this.#entering === 0 && this.#atOnce < AT_ONCE && this.#head < this.#waiting.length) {
      const { bytes, send } = this.#waiting[this.#head]!;
      this.#head += 1;
      this.#waitingBytes -= bytes;
      this.#atOnce += 1;
      const turn = ++this.#turn;
      this.#entering = turn;
      send(() => {
        if (this.#entering === turn) this.#entering = 0;
        this.#atOnce -= 1;
        this.#drain();
      });
    }
    if (this.#head > 1_000 || this.#head === this.#waiting.length) {
      this.#waiting = this.#waiting.slice(this.#head);
      this.#head = 0;
    }
    this.#isDraining = false;
  }

  #cutStuck(now: number, isBeyond: boolean): void {
    for (const subscriber of this.#subscribers.values()) {
      const { socket } = subscriber;
      if (socket.destroyed || !socket.writableNeedDrain) continue;
      const taken = socket.bytesWritten - socket.writableLength;
      if (taken !== subscriber.taken) {
        subscriber.taken = taken;
        subscriber.movedAt = now;
      }
      if (isBeyond || now - subscriber.movedAt >= STUCK_MS) {
        this.#cut(socket, 'reads nothing while messages wait for it');
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
