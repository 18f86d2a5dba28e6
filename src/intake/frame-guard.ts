/**
 * Stands between a socket and the broker library: every chunk that the library reads passes here first. An oversized or
 * senseless packet ends the connection before it takes memory; a sender with too much unanswered, or everybody when too
 * many bytes wait for their commit, is simply not read from, so that TCP slows the sender.
 * Why the socket's own `read` is replaced: the library pulls with it, and another stream in between would cost more per
 * message than everything else that is done here.
 */
import type { Socket } from 'node:net';
import { FrameScanner, type FrameLimits } from './frame-scanner.js';

export interface GuardLimits extends FrameLimits {
  readonly pendingPerClientMax: number;
}

/** Says whether nobody may be read from at the moment, and calls back when that has passed. */
export interface Sluice {
  isShut(): boolean;
  /** `wake` is called once, when it has opened */
  wait(wake: () => void): void;
}

export class FrameGuard {
  /** messages handed to the broker and not answered yet */
  pending = 0;
  readonly #scanner: FrameScanner;
  readonly #socket: Socket;
  readonly #limits: GuardLimits;
  readonly #sluice: Sluice;
  readonly #read: (size?: number) => Buffer | null;
  #isHeldBack = false;
  readonly #refuse: (reason: string) => void;

  /** `refuse`: called once with a reason; it must destroy the socket. */
  constructor(socket: Socket, limits: GuardLimits, sluice: Sluice, refuse: (reason: string) => void) {
    this.#socket = socket;
    this.#limits = limits;
    this.#sluice = sluice;
    this.#refuse = refuse;
    this.#scanner = new FrameScanner(limits);
    this.#read = socket.read.bind(socket) as (size?: number) => Buffer | null;
    socket.read = (size?: number): Buffer | null => (size === 0 ? this.#read(0) : this.#take());
  }

  get sawDisconnect(): boolean {
    return this.#scanner.sawDisconnect;
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

  #take(): Buffer | null {
    if (this.#scanner.fault !== null) return null;
    const room = this.#limits.pendingPerClientMax - this.pending;
    if (room <= 0) {
      this.#isHeldBack = true;
      return null;
    }
    if (this.#sluice.isShut()) {
      if (!this.#isHeldBack) this.#sluice.wait(() => this.#wake());
      this.#isHeldBack = true;
      return null;
    }
    const chunk = this.#read();
    if (chunk === null) return null;
    const end = this.#scanner.scan(chunk, room);
    if (this.#scanner.fault !== null) {
      this.#refuse(this.#scanner.fault);
      return null;
    }
    if (end === chunk.length) return chunk;
    this.#socket.unshift(chunk.subarray(end));
    return chunk.subarray(0, end);
  }
}
