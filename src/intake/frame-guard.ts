/**
 * Stands between a socket and the broker library: every byte passes here first. An oversized or senseless packet ends the
 * connection before it takes memory; a sender with too much unanswered, or everybody when too many bytes wait for their
 * commit, is simply not read from, so that TCP slows the sender. And the usual publish of somebody who is logged in is
 * taken out here, where it arrives: the library would read it again and ask everybody who might want it.
 * Why the socket's own `push` and `read` are replaced: the network pushes and the library pulls with them, and another
 * stream in between would cost more per message than everything else that is done here.
 */
import type { Socket } from 'node:net';
import { FrameScanner, type FrameLimits } from './frame-scanner.js';
import type { Sluice } from './sluice.js';
import { INCOMPLETE, UsualPublish } from './usual-publish.js';

export interface GuardLimits extends FrameLimits {
  readonly pendingPerClientMax: number;
}

/** Who takes usual publishes without the library. */
export interface Taker {
  /** False: it is one for the library after all. */
  take(chunk: Buffer, publish: UsualPublish): boolean;
  /** The sender gave a sign of life that the library will not see. */
  stayAlive(): void;
}

/** A packet that is longer than this and comes in pieces is put together by the library. */
const PIECE_BYTES_MAX = 4_096;

/** Chunks are looked at one after the other, so one for all connections will do. */
const PUBLISH = new UsualPublish();

export class FrameGuard {
  /** messages handed on and not answered yet */
  pending = 0;
  readonly #scanner: FrameScanner;
  readonly #socket: Socket;
  readonly #limits: GuardLimits;
  readonly #sluice: Sluice;
  readonly #read: (size?: number) => Buffer | null;
  readonly #push: (chunk: Buffer | null) => boolean;
  #isHeldBack = false;
  #taker: Taker | null = null;
  /** beginning of a publish, to be continued by what arrives next */
  #piece: Buffer | null = null;
  readonly #refuse: (reason: string) => void;

  /** `refuse`: called once with a reason; it must destroy the socket. */
  constructor(socket: Socket, limits: GuardLimits, sluice: Sluice, refuse: (reason: string) => void) {
    this.#socket = socket;
    this.#limits = limits;
    this.#sluice = sluice;
    this.#refuse = refuse;
    this.#scanner = new FrameScanner(limits);
    this.#read = socket.read.bind(socket) as (size?: number) => Buffer | null;
    this.#push = socket.push.bind(socket) as (chunk: Buffer | null) => boolean;
    socket.read = (size?: number): Buffer | null => (size === 0 ? this.#read(0) : this.#take());
    socket.push = (chunk: Buffer | null): boolean => this.#arrive(chunk);
  }

  get sawDisconnect(): boolean {
    return this.#scanner.sawDisconnect;
  }

  /** From here on usual publishes go to `taker`. To be called when the library has dealt with the CONNECT. */
  shorten(taker: Taker): void {
    this.#taker = taker;
  }

  /** Lets the sender go on when it was held back and has few enough unanswered. */
  answered(): void {
    if (this.#isHeldBack && this.pending <= this.#limits.pendingPerClientMax / 2) this.#wake();
  }

  #wake(): void {
    if (!this.#isHeldBack) return;
    this.#isHeldBack = false;
    if (!this.#socket.destroyed) this.#socket.emit('readable');
  }

  /** From the network. What the library has not read yet comes before. */
  #arrive(chunk: Buffer | null): boolean {
    if (this.#taker === null || chunk === null) return this.#push(chunk);
    const all = this.#complete(chunk);
    if (this.#socket.readableLength > 0 || !this.#scanner.isBetweenPackets) return this.#push(all);
    const rest = this.#takeUsual(this.#taker, all);
    return rest === null || this.#push(rest);
  }

  #complete(chunk: Buffer): Buffer {
    const piece = this.#piece;
    if (piece === null) return chunk;
    this.#piece = null;
    return Buffer.concat([piece, chunk]);
  }

  /** To the library. */
  #take(): Buffer | null {
    if (this.#scanner.fault !== null || this.#mustWait()) return null;
    const chunk = this.#read();
    if (chunk === null) return null;
    const isUsualPlace = this.#taker !== null && this.#scanner.isBetweenPackets;
    const rest = isUsualPlace ? this.#takeUsual(this.#taker!, chunk) : chunk;
    if (rest === null) return null;
    if (rest !== chunk && this.#mustWait()) {
      this.#socket.unshift(rest);
      return null;
    }
    const end = this.#scanner.scan(rest, this.#limits.pendingPerClientMax - this.pending);
    if (this.#scanner.fault !== null) {
      this.#refuse(this.#scanner.fault);
      return null;
    }
    if (end === rest.length) return rest;
    this.#socket.unshift(rest.subarray(end));
    return rest.subarray(0, end);
  }

  /** Notes that somebody is to be woken, where nothing may be taken at the moment. */
  #mustWait(): boolean {
    if (this.pending >= this.#limits.pendingPerClientMax) {
      this.#isHeldBack = true;
      return true;
    }
    if (!this.#sluice.isShut()) return false;
    if (!this.#isHeldBack) this.#sluice.wait(() => this.#wake());
    this.#isHeldBack = true;
    return true;
  }

  /** Takes usual publishes from the chunk's beginning, as many as there is room for. What is left over; null: nothing. */
  #takeUsual(taker: Taker, chunk: Buffer): Buffer | null {
    const { pendingPerClientMax, packetBytesMax } = this.#limits;
    let at = 0;
    let rest: Buffer | null = null;
    while (at < chunk.length) {
      const hasRoom = this.pending < pendingPerClientMax && !this.#sluice.isShut();
      const bytes = hasRoom ? PUBLISH.find(chunk, at) : 0;
      if (bytes === INCOMPLETE && PUBLISH.bytes <= Math.min(PIECE_BYTES_MAX, packetBytesMax)) {
        this.#piece = Buffer.from(chunk.subarray(at));
        break;
      }
      if (bytes <= 0 || bytes > packetBytesMax || !taker.take(chunk, PUBLISH)) {
        rest = at === 0 ? chunk : chunk.subarray(at);
        break;
      }
      at += bytes;
    }
    if (at > 0) taker.stayAlive();
    return rest;
  }
}
