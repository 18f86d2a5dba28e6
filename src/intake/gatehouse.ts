/**
 * Where publishes wait. Each one goes, as raw bytes, into a batch for the engine, and its sender gets no answer until that
 * batch is committed. The usual message then takes a short way: its PUBACK is written together with the others that its
 * sender is owed, and the library goes on as if it had been delivered to nobody, which is the case. Only where somebody
 * listens, or the message is retained, the library's own way is taken.
 */
import type { Client, PublishPacket } from 'aedes';
import { FrameFlag, FrameKind } from './batch-writer.js';
import { Batcher, type BatcherLimits, type SubmittedBatch } from './batcher.js';
import type { Arrival } from './intake.js';
import type { LimitedLog } from './log-limit.js';
import type { Continue, Session } from './session.js';

/** Stands for the payload of a message that needs no more than its acknowledgement. */
export const DONE_WITH = Buffer.alloc(0);

const NOTHING = new Uint8Array(0);
/** Longer topics are nobody's; they are refused before they fill a table. */
const TOPIC_MAX = 256;
/** Wills and ends of sessions kept while nothing can be stored. */
const CARRIED_MAX = 20_000;

interface Held {
  readonly session: Session;
  /** null: the end of a session, which nobody waits for */
  readonly packet: PublishPacket | null;
  readonly topic: string;
  readonly proceed: Continue | null;
  readonly isWill: boolean;
  readonly flags: number;
  readonly receivedAt: number;
}

export interface GatehouseWishes {
  readonly limits: BatcherLimits;
  readonly log: LimitedLog;
  now(): number;
  submit(batch: SubmittedBatch): void;
  /** whether anybody listens to what comes from the field */
  isHeard(): boolean;
  /** delivers a message whose sender is gone */
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

  /** Takes a publish in. `proceed` is called once it is committed; never, when its sender is cut. */
  hold(session: Session, client: Client, packet: PublishPacket, proceed: Continue): void {
    this.received += 1;
    const receivedAt = this.#wishes.now();
    const isWill = client.closed;
    const isLong = packet.topic.length > TOPIC_MAX;
    const topic = isLong ? Buffer.from(packet.topic.slice(0, TOPIC_MAX)).toString() : packet.topic;
    let flags = packet.retain ? FrameFlag.retain : 0;
    if (this.#isHalted) {
      if (isWill) this.#carry({ session, packet, topic, proceed, isWill, flags, receivedAt });
      else session.cut('sent a message while nothing can be stored');
      return;
    }
    const names = this.batcher.begin();
    const slot = session.slotOf(names, topic);
    if (isLong || !slot.isAllowed) {
      flags |= FrameFlag.denied;
      this.#deny(session, topic);
    }
    session.guard.pending += 1;
    session.hasPublished = true;
    const held = { session, packet, topic, proceed, isWill, flags, receivedAt };
    const payload = toBytes(packet.payload);
    this.batcher.add(
      FrameKind.publish,
      flags,
      receivedAt,
      session.clientNumber(names),
      slot.number,
      payload,
      held,
    );
  }

  endSession(session: Session): void {
    if (!session.hasPublished) return;
    const flags = session.guard.sawDisconnect ? FrameFlag.clean : 0;
    const receivedAt = this.#wishes.now();
    const held: Held = { session, packet: null, topic: '', proceed: null, isWill: false, flags, receivedAt };
    if (this.#isHalted) this.#carry(held);
    else this.#add(held);
  }

  /** The engine has committed a batch; `rejected`: places of frames that nobody else shall see. */
  settle(id: number, rejected: readonly number[], buffer: ArrayBuffer | null): void {
    const all = this.batcher.settle(id, buffer);
    if (this.tap !== null) for (const held of all) this.#tell(held, this.tap);
    const owing: Session[] = [];
    let next = 0;
    for (let i = 0; i < all.length; i++) {
      const isRejected = rejected[next] === i;
      if (isRejected) next += 1;
      const held = all[i]!;
      if (held.packet !== null) this.#release(held, held.packet, isRejected, owing);
    }
    for (const session of owing) {
      session.payOwed();
      session.guard.answered();
    }
  }

  /** Nothing can be stored: those who wait are cut, so that they send again. */
  halt(reason: string): void {
    if (this.#isHalted) return;
    this.#isHalted = true;
    const cut = new Set<Session>();
    for (const held of this.batcher.halt()) {
      held.session.guard.pending = 0;
      if (held.packet === null || held.isWill) this.#carry(held);
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
    for (const held of carried) {
      if (held.packet !== null) held.session.guard.pending += 1;
      this.#add(held);
    }
    this.batcher.resume();
  }

  #add(held: Held): void {
    const names = this.batcher.begin();
    const topic = names.numberOf(held.topic);
    const client = names.numberOf(held.session.clientId);
    const kind = held.packet === null ? FrameKind.sessionEnd : FrameKind.publish;
    const payload = held.packet === null ? NOTHING : toBytes(held.packet.payload);
    this.batcher.add(kind, held.flags, held.receivedAt, client, topic, payload, held);
  }

  /** Beyond the bound the oldest goes: a later end of the same session says more. */
  #carry(held: Held): void {
    if (this.#carried.length >= CARRIED_MAX) this.#carried.shift();
    this.#carried.push(held);
  }

  #deny(session: Session, topic: string): void {
    this.denied += 1;
    const login = session.rights?.name;
    this.#wishes.log.warn('a client published where it may not', { client: session.clientId, login, topic });
  }

  #release(held: Held, packet: PublishPacket, isHidden: boolean, owing: Session[]): void {
    const { session } = held;
    const proceed = held.proceed!;
    this.acknowledged += 1;
    session.guard.pending -= 1;
    const isHeard = !isHidden && (packet.retain || this.#wishes.isHeard());
    if (held.isWill) {
      proceed(isHeard ? null : new Error('nobody is to hear it'));
      return;
    }
    if (session.socket.destroyed) {
      if (isHeard) this.#wishes.deliver(packet);
      return;
    }
    if (isHeard || packet.qos === 2) {
      session.payOwed();
      if (!isHeard) packet.payload = DONE_WITH;
      proceed(null);
      session.guard.answered();
      return;
    }
    const messageId = packet.qos === 1 ? (packet.messageId ?? null) : null;
    packet.payload = DONE_WITH;
    packet.qos = 0;
    if (session.owe(messageId, proceed)) owing.push(session);
  }

  #tell(held: Held, tap: (arrival: Arrival) => void): void {
    const { receivedAt: arrived, packet, topic, flags, session } = held;
    const client = session.clientId;
    if (packet === null)
      tap({ kind: 'disconnect', arrived, client, isClean: (flags & FrameFlag.clean) !== 0 });
    else if ((flags & FrameFlag.denied) === 0) {
      tap({
        kind: 'message',
        arrived,
        client,
        topic,
        payload: toBytes(packet.payload),
        retain: packet.retain,
      });
    }
  }
}

function toBytes(payload: string | Buffer): Uint8Array {
  return typeof payload === 'string' ? Buffer.from(payload, 'utf8') : payload;
}
