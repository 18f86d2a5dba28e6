/**
 * Serves the registers over Modbus TCP. Everything about it has a limit: connections, silence, and answers that a client
 * does not fetch. A connection beyond the limit is refused and those that are there go on.
 */
import { createServer, type Server, type Socket } from 'node:net';
import type { AddressInfo } from 'node:net';
import { answerRequest } from './modbus-answer.js';
import { takeFrames, writeFrame } from './modbus-frames.js';

export interface ModbusLimits {
  readonly clientsMax: number;
  /** a connection without a request for so long is ended */
  readonly idleMs: number;
  readonly unitId: number;
}

export interface ModbusFigures {
  clients: number;
  requests: number;
  /** answered with an exception */
  refused: number;
  /** connections turned away at the limit */
  turnedAway: number;
  /** connections ended for silence, for answers not fetched, or because they spoke something else */
  cut: number;
}

/** Answers that wait to be fetched before a connection is read no further; about 60 full ones. */
const WAITING_BYTES_MAX = 16_384;

export class ModbusServer {
  readonly figures: ModbusFigures = { clients: 0, requests: 0, refused: 0, turnedAway: 0, cut: 0 };
  readonly #limits: ModbusLimits;
  readonly #draw: () => Buffer;
  readonly #server: Server;
  readonly #sockets = new Set<Socket>();

  /** `draw`: the registers as they read now. */
  constructor(limits: ModbusLimits, draw: () => Buffer) {
    this.#limits = limits;
    this.#draw = draw;
    this.#server = createServer((socket) => this.#welcome(socket));
  }

  /** Resolves with the port; rejects with the fault of the address. */
  listen(host: string, port: number): Promise<number> {
    return new Promise((resolve, reject) => {
      this.#server.once('error', reject);
      this.#server.listen({ host, port }, () => {
        this.#server.off('error', reject);
        // out of file handles, say: those that are connected go on
        this.#server.on('error', () => this.figures.turnedAway++);
        resolve((this.#server.address() as AddressInfo).port);
      });
    });
  }

  close(): Promise<void> {
    for (const socket of this.#sockets) socket.destroy();
    return new Promise((resolve) => this.#server.close(() => resolve()));
  }

  #welcome(socket: Socket): void {
    // a reset is the end of one connection and nothing else
    socket.on('error', () => socket.destroy());
    if (this.#sockets.size >= this.#limits.clientsMax) {
      this.figures.turnedAway++;
      socket.destroy();
      return;
    }
    this.#sockets.add(socket);
    this.figures.clients = this.#sockets.size;
    socket.setNoDelay(true);
    socket.setTimeout(this.#limits.idleMs, () => this.#cut(socket));
    socket.on('close', () => {
      this.#sockets.delete(socket);
      this.figures.clients = this.#sockets.size;
    });
    let rest: Buffer = Buffer.alloc(0);
    socket.on('data', (chunk: Buffer) => {
      const taken = takeFrames(rest.length === 0 ? chunk : Buffer.concat([rest, chunk]));
      if (taken === null) {
        this.#cut(socket);
        return;
      }
      rest = Buffer.from(taken.rest);
      if (taken.frames.length > 0) this.#answer(socket, taken.frames);
    });
    socket.on('drain', () => socket.resume());
  }

  #answer(socket: Socket, frames: NonNullable<ReturnType<typeof takeFrames>>['frames']): void {
    const image = this.#draw();
    const answers = frames.map(({ transaction, unit, pdu }) => {
      const answer = answerRequest(pdu, unit, this.#limits.unitId, image);
      this.figures.requests++;
      if ((answer[0]! & 0x80) !== 0) this.figures.refused++;
      return writeFrame(transaction, unit, answer);
    });
    socket.write(Buffer.concat(answers));
    // who asks and does not fetch waits; its own silence ends it
    if (socket.writableLength > WAITING_BYTES_MAX) socket.pause();
  }

  #cut(socket: Socket): void {
    this.figures.cut++;
    socket.destroy();
  }
}
