/** One connection: its guard, its rights, and the acknowledgements that it is owed. */
import type { Socket } from 'node:net';
import type { Rights } from './acl.js';
import { FrameGuard, type GuardLimits } from './frame-guard.js';
import type { NameTable } from './name-table.js';
import type { Sluice } from './sluice.js';

/** Longer topics are nobody's; they are refused before they fill a table. */
export const TOPIC_MAX = 256;
/** Levels of a topic; the names of this gateway have six at most. */
export const LEVELS_MAX = 16;
/** Topics one connection may use before its table starts anew. */
const TOPICS_MAX = 4_096;
/** A sender that reads none of its acknowledgements is cut at this many bytes of them. */
const UNREAD_ACK_BYTES_MAX = 65_536;

/** What names are made of. Any other topic is the library's to judge. */
const USUAL_TOPIC = /^[\w-]+(\/[\w-]+)+$/;

export interface TopicSlot {
  readonly topic: string;
  number: number;
  epoch: number;
  readonly isAllowed: boolean;
  /** when the last message came under it, ms; 0: none has */
  at: number;
}

/** Continues the library's handling of one packet. */
export type Continue = (error?: Error | null) => void;

export class Session {
  readonly socket: Socket;
  readonly guard: FrameGuard;
  /** null before login */
  rights: Rights | null = null;
  clientId = '';
  /** it asked to have its session kept */
  wantsKept = false;
  /** whether it has published below `in/` */
  hasPublished = false;
  readonly #topics = new Map<string, TopicSlot>();
  /** the topic of the last usual publish, as it stood in its packet */
  #lastBytes: Uint8Array | null = null;
  #lastSlot: TopicSlot | null = null;
  #clientNumber = 0;
  #clientEpoch = -1;
  #owedIds: number[] = [];
  #owed: Continue[] = [];
  #isOwing = false;

  constructor(
    socket: Socket,
    limits: GuardLimits,
    sluice: Sluice,
    readonly cut: (reason: string) => void,
  ) {
    this.socket = socket;
    this.guard = new FrameGuard(socket, limits, sluice, cut);
  }

  /** The topic's number in the table, and whether this session may publish there. */
  slotOf(names: NameTable, topic: string): TopicSlot {
    let slot = this.#topics.get(topic);
    if (slot === undefined) {
      if (this.#topics.size >= TOPICS_MAX) this.#topics.clear();
      slot = { topic, number: 0, epoch: -1, isAllowed: this.rights?.mayPublish(topic) ?? false, at: 0 };
      this.#topics.set(topic, slot);
    }
    refresh(slot, names);
    return slot;
  }

  /** The same, for a topic as it stands in a chunk; null: not a usual one, or not allowed. */
  usualSlot(names: NameTable, chunk: Buffer, from: number, to: number): TopicSlot | null {
    let slot = this.#lastSlot;
    if (slot === null || !isSame(this.#lastBytes!, chunk, from, to)) {
      if (to - from > TOPIC_MAX) return null;
      const topic = chunk.toString('latin1', from, to);
      if (!USUAL_TOPIC.test(topic) || topic.split('/').length > LEVELS_MAX) return null;
      slot = this.slotOf(names, topic);
      if (!slot.isAllowed) return null;
      this.#lastSlot = slot;
      this.#lastBytes = Uint8Array.prototype.slice.call(chunk, from, to);
    }
    refresh(slot, names);
    return slot;
  }

  /** Topics that it has published to, of late. */
  slots(): Iterable<Readonly<TopicSlot>> {
    return this.#topics.values();
  }

  clientNumber(names: NameTable): number {
    if (this.#clientEpoch !== names.epoch) {
      this.#clientNumber = names.numberOf(this.clientId);
      this.#clientEpoch = names.epoch;
    }
    return this.#clientNumber;
  }

  /** Another configuration may allow other topics. */
  setRights(rights: Rights): void {
    this.rights = rights;
    this.#topics.clear();
    this.#lastSlot = null;
  }

  /**
   * Notes an acknowledgement; true when it is the first one since `payOwed`. `messageId` null: QoS 0, none is due;
   * `proceed` null: the library does not wait for it.
   */
  owe(messageId: number | null, proceed: Continue | null): boolean {
    if (messageId !== null) this.#owedIds.push(messageId);
    if (proceed !== null) this.#owed.push(proceed);
    const isFirst = !this.#isOwing;
    this.#isOwing = true;
    return isFirst;
  }

  /** Writes all PUBACKs that are due in one piece, then lets the library read on. Order as owed. */
  payOwed(): void {
    if (!this.#isOwing) return;
    this.#isOwing = false;
    const ids = this.#owedIds;
    const owed = this.#owed;
    if (owed.length > 0) this.#owed = [];
    if (this.socket.destroyed) {
      ids.length = 0;
      return;
    }
    if (ids.length > 0) {
      this.socket.write(encodePubacks(ids));
      ids.length = 0;
      if (this.socket.writableLength > UNREAD_ACK_BYTES_MAX) {
        this.cut('does not read its acknowledgements');
        return;
      }
    }
    for (const proceed of owed) proceed(null);
  }
}

/** Numbers of another epoch are void. */
function refresh(slot: TopicSlot, names: NameTable): void {
  if (slot.epoch === names.epoch) return;
  slot.number = names.numberOf(slot.topic);
  slot.epoch = names.epoch;
}

function isSame(bytes: Uint8Array, chunk: Uint8Array, from: number, to: number): boolean {
  if (bytes.length !== to - from) return false;
  for (let i = 0; i < bytes.length; i++) {
    if (bytes[i] !== chunk[from + i]) return false;
  }
  return true;
}

/** MQTT 3.1.1, 3.4: 0x40, remaining length 2, packet identifier. */
function encodePubacks(ids: readonly number[]): Buffer {
  const buffer = Buffer.allocUnsafe(ids.length * 4);
  let at = 0;
  for (const id of ids) {
    buffer[at] = 0x40;
    buffer[at + 1] = 2;
    buffer[at + 2] = id >> 8;
    buffer[at + 3] = id & 0xff;
    at += 4;
  }
  return buffer;
}
