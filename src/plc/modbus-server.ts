/**
 * Serves the registers over Modbus TCP. Everything about it has a limit: connections, silence, and answers that a client
 * does not fetch. A connection beyond the limit is refused and those that are there go on.
 */
import { createServer, type Server, type Socket } from 'node:net';
import type { AddressInfo } from 'node:net';
import { answerRequest } from './modbus-answer.js';
import { takeFrames, writeFrame, type ModbusFrame } from './modbus-frames.js';

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

/**
 * Answers that wait to be fetched before a connection is answered and read no further; about 60 full ones. Our own bound: what
 * Node.js holds for much differs from version to version, and with it when a connection tells that it has room again.
 */
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
    const asked: ModbusFrame[] = [];
    socket.on('data', (chunk: Buffer) => {
      const taken = takeFrames(rest.length === 0 ? chunk : Buffer.concat([rest, chunk]));
      if (taken === null) {
        this.#cut(socket);
        return;
      }
      rest = Buffer.from(taken.rest);
      asked.push(...taken.frames);
      this.#answer(socket, asked);
    });
  }

  /** Answers what was asked, as far as there is room, and goes on when an answer was fetched. */
  #answer(socket: Socket, asked: ModbusFrame[]): void {
    const answers: Buffer[] = [];
    let waitingBytes = socket.writableLength;
    while (answers.length < asked.length && waitingBytes < WAITING_BYTES_MAX) {
      const answer = this.#answerOne(asked[answers.length]!);
      answers.push(answer);
      waitingBytes += answer.length;
    }
    asked.splice(0, answers.length);
    // who asks and does not fetch waits; its own silence ends it
    if (waitingBytes >= WAITING_BYTES_MAX) socket.pause();
    else if (asked.length === 0) socket.resume();
    if (answers.length > 0)
      socket.write(Buffer.concat(answers), (error) => {
        if (error === null || error === undefined) this.#answer(socket, asked);
      });
  }

  #answerOne({ transaction, unit, pdu }: ModbusFrame): Buffer {
    const answer = answerRequest(pdu, unit, this.#limits.unitId, this.#draw());
    this.figures.requests++;
    if ((answer[0]! & 0x80) !== 0) this.figures.refused++;
    return writeFrame(transaction, unit, answer);
  }

  #cut(socket: Socket): void {
    this.figures.cut++;
    socket.destroy();
  }
}
