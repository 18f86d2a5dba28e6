/** One connection: its guard, its rights, and the acknowledgements that it is owed. */
import type { Socket } from 'node:net';
import type { Rights } from './acl.js';
import { FrameGuard, type GuardLimits, type Sluice } from './frame-guard.js';
import type { NameTable } from './name-table.js';

/** Topics one connection may use before its table starts anew. */
const TOPICS_MAX = 4_096;
/** A sender that reads none of its acknowledgements is cut at this many bytes of them. */
const UNREAD_ACK_BYTES_MAX = 65_536;

interface TopicSlot {
  number: number;
  epoch: number;
  readonly isAllowed: boolean;
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
  #clientNumber = 0;
  #clientEpoch = -1;
  #owedIds: number[] = [];
  #owed: Continue[] = [];

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
      slot = { number: 0, epoch: -1, isAllowed: this.rights?.mayPublish(topic) ?? false };
      this.#topics.set(topic, slot);
    }
    if (slot.epoch !== names.epoch) {
      slot.number = names.numberOf(topic);
      slot.epoch = names.epoch;
    }
    return slot;
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
  }

  /** Notes an acknowledgement; true when it is the first one since `payOwed`. `messageId` null: QoS 0, none is due. */
  owe(messageId: number | null, proceed: Continue): boolean {
    if (messageId !== null) this.#owedIds.push(messageId);
    return this.#owed.push(proceed) === 1;
  }

  /** Writes all PUBACKs that are due in one piece, then lets the library read on. Order as owed. */
  payOwed(): void {
    const owed = this.#owed;
    if (owed.length === 0) return;
    const ids = this.#owedIds;
    this.#owed = [];
    this.#owedIds = [];
    if (this.socket.destroyed) return;
    if (ids.length > 0) {
      this.socket.write(encodePubacks(ids));
      if (this.socket.writableLength > UNREAD_ACK_BYTES_MAX) {
        this.cut('does not read its acknowledgements');
        return;
      }
    }
    for (const proceed of owed) proceed(null);
  }
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
