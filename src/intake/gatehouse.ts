/**
 * Where publishes wait. Each one goes, as raw bytes, into a batch for the engine, and its sender gets no answer until that
 * batch is committed. Its PUBACK is written together with the others that its sender is owed, and it is delivered where
 * somebody listens or it is retained. The library, where it has seen the message at all, goes on as if there had been
 * nothing to do. Only QoS 2 takes the library's own way.
 */
import type { Client, PublishPacket } from 'aedes';
import { FrameFlag, FrameKind } from './batch-writer.js';
import { Batcher, type BatcherLimits, type SubmittedBatch } from './batcher.js';
import type { ContactBook } from './contacts.js';
import type { Arrival } from './intake.js';
import type { LimitedLog } from './log-limit.js';
import { TOPIC_MAX, type Continue, type Session } from './session.js';
import type { UsualPublish } from './usual-publish.js';

/** Stands for the payload of a message that the library has no more to do with. */
export const DONE_WITH = Buffer.alloc(0);

/** Wills and ends of sessions kept while nothing can be stored. */
const CARRIED_MAX = 20_000;

type QoS = PublishPacket['qos'];

interface Held {
  readonly session: Session;
  readonly kind: FrameKind;
  readonly topic: string;
  readonly payload: Buffer;
  readonly qos: QoS;
  /** 0: QoS 0, or nobody waits for an answer */
  readonly messageId: number;
  /** as the library has it; null: it has not seen it */
  readonly packet: PublishPacket | null;
  readonly proceed: Continue | null;
  readonly isWill: boolean;
  flags: number;
  readonly receivedAt: number;
  /** committed, and to be delivered */
  isHeard: boolean;
}

export interface GatehouseWishes {
  readonly limits: BatcherLimits;
  readonly log: LimitedLog;
  readonly contacts: ContactBook;
  now(): number;
  submit(batch: SubmittedBatch): void;
  /** whether anybody listens to what comes from the field */
  isHeard(): boolean;
  /** delivers a message without its sender */
  deliver(packet: PublishPacket): void;
}

export class Gatehouse {
  received = 0;
  acknowledged = 0;
  denied = 0;
  /** told of every message and end of a session, in the order of the commits */
  tap: ((arrival: Arrival) => void) | null = null;
  readonly batcher: Batcher<Held>;
  readonly #wishes: GatehouseWishes;
  #isHalted = true;
  #carried: Held[] = [];

  /** Begins halted. */
  constructor(wishes: GatehouseWishes) {
    this.#wishes = wishes;
    this.batcher = new Batcher<Held>(wishes.limits, (batch) => wishes.submit(batch));
    this.batcher.halt();
  }

  get isHalted(): boolean {
    return this.#isHalted;
  }

  /** From the login on the usual publish goes from the socket into the batch. */
  open(session: Session, client: Client): void {
    // null: the client wants no watch over its silence
    const { _keepaliveTimer: watch } = client as unknown as { _keepaliveTimer: NodeJS.Timeout | null };
    const taker = {
      take: (chunk: Buffer, publish: UsualPublish) => this.#take(session, chunk, publish),
      stayAlive: () => void watch?.refresh(),
    };
    // what came with the CONNECT is the library's still: it deals with that first
    setImmediate(() => session.guard.shorten(taker));
  }

  /** Takes a publish in that the library has read. `proceed` is called once it is committed; never, when its sender is cut. */
  hold(session: Session, client: Client, packet: PublishPacket, proceed: Continue): void {
    const isWill = client.closed;
    // MQTT 3.1.1, 2.3.1: not allowed, and its answer could be taken for that to another one
    if (packet.qos > 0 && packet.messageId === 0 && !isWill) {
      session.cut('sent a message with the identifier 0');
      return;
    }
    this.received += 1;
    const isLong = packet.topic.length > TOPIC_MAX;
    const held: Held = {
      session,
      kind: FrameKind.publish,
      topic: isLong ? Buffer.from(packet.topic.slice(0, TOPIC_MAX)).toString() : packet.topic,
      payload: toBytes(packet.payload),
      qos: packet.qos,
      messageId: packet.messageId ?? 0,
      packet,
      proceed,
      isWill,
      flags: packet.retain ? FrameFlag.retain : 0,
      receivedAt: this.#wishes.now(),
      isHeard: false,
    };
    if (this.#isHalted) {
      if (isWill) this.#carry(held);
      else session.cut('sent a message while nothing can be stored');
      return;
    }
    const slot = session.slotOf(this.batcher.begin(), held.topic);
    slot.at = held.receivedAt;
    if (isLong || !slot.isAllowed) {
      held.flags |= FrameFlag.denied;
      this.#deny(session, held.topic);
    }
    this.#add(held, slot.number);
  }

  /** Takes a publish in as it stands in what a socket received. False: the library must have a look at it. */
  #take(session: Session, chunk: Buffer, publish: UsualPublish): boolean {
    if (this.#isHalted) return false;
    const slot = session.usualSlot(this.batcher.begin(), chunk, publish.topicFrom, publish.topicTo);
    if (slot === null) return false;
    this.received += 1;
    const held: Held = {
      session,
      kind: FrameKind.publish,
      topic: slot.topic,
      payload: chunk.subarray(publish.payloadFrom, publish.end),
      qos: 1,
      messageId: publish.messageId,
      packet: null,
      proceed: null,
      isWill: false,
      flags: 0,
      receivedAt: this.#wishes.now(),
      isHeard: false,
    };
    slot.at = held.receivedAt;
    this.#add(held, slot.number);
    return true;
  }

  endSession(session: Session): void {
    if (!session.hasPublished) return;
    const held: Held = {
      session,
      kind: FrameKind.sessionEnd,
      topic: '',
      payload: DONE_WITH,
      qos: 0,
      messageId: 0,
      packet: null,
      proceed: null,
      isWill: false,
      flags: session.guard.sawDisconnect ? FrameFlag.clean : 0,
      receivedAt: this.#wishes.now(),
      isHeard: false,
    };
    if (this.#isHalted) this.#carry(held);
    else this.#add(held, this.batcher.begin().numberOf(held.topic));
  }

  /** The engine has committed a batch; `rejected`: places of frames that nobody else shall see. */
  settle(id: number, rejected: readonly number[], buffer: ArrayBuffer | null): void {
    const all = this.batcher.settle(id, buffer);
    if (this.tap !== null) for (const held of all) this.#tell(held, this.tap);
    const owing: Session[] = [];
    const heard: Held[] = [];
    let next = 0;
    for (let i = 0; i < all.length; i++) {
      const isRejected = rejected[next] === i;
      if (isRejected) next += 1;
      const held = all[i]!;
      if (held.kind === FrameKind.publish) this.#release(held, isRejected, owing, heard);
    }
    // senders first: whoever waits for an answer sends the next message meanwhile
    for (const session of owing) {
      session.payOwed();
      session.guard.answered();
    }
    for (const held of heard) this.#deliver(held);
  }

  /** Nothing can be stored: those who wait are cut, so that they send again. */
  halt(reason: string): void {
    if (this.#isHalted) return;
    this.#isHalted = true;
    const cut = new Set<Session>();
    for (const held of this.batcher.halt()) {
      held.session.guard.pending = 0;
      if (held.kind === FrameKind.sessionEnd || held.isWill) this.#carry(held);
      else cut.add(held.session);
    }
    for (const session of cut) session.cut(reason);
  }

  /** Goes on, first with what nobody would send again. */
  resume(): void {
    if (!this.#isHalted) return;
    this.#isHalted = false;
    const carried = this.#carried;
    this.#carried = [];
    for (const held of carried) this.#add(held, this.batcher.begin().numberOf(held.topic));
    this.batcher.resume();
  }

  /** `topic`: its number in the batch that is open. */
  #add(held: Held, topic: number): void {
    const { session, kind, flags, receivedAt, payload } = held;
    const client = session.clientNumber(this.batcher.names);
    if (kind === FrameKind.publish) {
      session.guard.pending += 1;
      session.hasPublished = true;
    }
    this.batcher.add(kind, flags, receivedAt, client, topic, payload, held);
  }

  /** Beyond the bound the oldest goes: a later end of the same session says more. */
  #carry(held: Held): void {
    if (this.#carried.length >= CARRIED_MAX) this.#carried.shift();
    this.#carried.push(held);
  }

  #deny(session: Session, topic: string): void {
    this.denied += 1;
    const { rights, clientId: client } = session;
    this.#wishes.log.warn('a client published where it may not', { client, login: rights?.name, topic });
    const rule = rights?.publishRule ?? 'it has not logged in';
    const login = rights?.name ?? '';
    this.#wishes.contacts.deny('denied-publish', this.#wishes.now(), { topic, client, login, rule });
  }

  /** `heard`: gets what is not done with when its sender has its answer. */
  #release(held: Held, isRejected: boolean, owing: Session[], heard: Held[]): void {
    const { session, packet, qos } = held;
    this.acknowledged += 1;
    session.guard.pending -= 1;
    held.isHeard = !isRejected && ((held.flags & FrameFlag.retain) !== 0 || this.#wishes.isHeard());
    const isGone = session.socket.destroyed;
    if (held.isHeard || held.isWill || (qos === 2 && !isGone)) heard.push(held);
    if (isGone || held.isWill || qos === 2) return;
    if (packet !== null) {
      packet.payload = DONE_WITH;
      packet.qos = 0;
    }
    if (session.owe(qos === 1 ? held.messageId : null, held.proceed)) owing.push(session);
  }

  #deliver(held: Held): void {
    const { session, packet, isHeard } = held;
    if (held.isWill) {
      held.proceed!(isHeard ? null : new Error('nobody is to hear it'));
    } else if (held.qos === 2 && !session.socket.destroyed) {
      if (!isHeard) packet!.payload = DONE_WITH;
      held.proceed!(null);
      session.guard.answered();
    } else if (isHeard) {
      const { topic, payload, qos } = held;
      const retain = (held.flags & FrameFlag.retain) !== 0;
      this.#wishes.deliver({ cmd: 'publish', topic, payload, qos, retain, dup: false });
    }
  }

  #tell(held: Held, tap: (arrival: Arrival) => void): void {
    const { receivedAt: arrived, topic, payload, flags, session } = held;
    const client = session.clientId;
    if (held.kind === FrameKind.sessionEnd) {
      tap({ kind: 'disconnect', arrived, client, isClean: (flags & FrameFlag.clean) !== 0 });
    } else if ((flags & FrameFlag.denied) === 0) {
      tap({ kind: 'message', arrived, client, topic, payload, retain: (flags & FrameFlag.retain) !== 0 });
    }
  }
}

function toBytes(payload: string | Buffer): Buffer {
  return typeof payload === 'string' ? Buffer.from(payload, 'utf8') : payload;
}
