/** What a master that asks and does not fetch may leave waiting: our own bound, whatever the stream defaults of this Node.js are. */
import { subscribe, unsubscribe } from 'node:diagnostics_channel';
import { connect, type Socket } from 'node:net';
import { getDefaultHighWaterMark, setDefaultHighWaterMark } from 'node:stream';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { takeFrames, writeFrame } from '../../src/plc/modbus-frames.js';
import { ModbusServer } from '../../src/plc/modbus-server.js';
import { sleep } from '../support/child.js';

const WAITING_BYTES_MAX = 16_384;
const ANSWER_BYTES = 259;
const REQUESTS = 60_000;
const usual = getDefaultHighWaterMark(false);

/** Sockets on the server's side. */
const served: Socket[] = [];
const watch = (message: unknown): void => void served.push((message as { socket: Socket }).socket);
let server: ModbusServer;
let master: Socket;
beforeEach(() => subscribe('net.server.socket', watch));
afterEach(async () => {
  unsubscribe('net.server.socket', watch);
  setDefaultHighWaterMark(false, usual);
  master.destroy();
  await server.close();
  served.length = 0;
});

const request = (transaction: number): Buffer =>
  writeFrame(transaction & 0xffff, 1, Buffer.from([3, 0, 0, 0, 125]));

/** Asks without fetching, until the server reads no more of it. Returns how often it asked. */
async function askWithoutFetching(portion: number): Promise<number> {
  master.pause();
  const [socket] = served;
  let asked = 0;
  while (asked < REQUESTS && !socket!.isPaused()) {
    master.write(Buffer.concat(Array.from({ length: portion }, (_, i) => request(asked + i))));
    asked += portion;
    // so that each portion comes in by itself
    for (let i = 0; i < 3; i++) await new Promise((resolve) => setImmediate(resolve));
    expect(socket!.writableLength).toBeLessThan(WAITING_BYTES_MAX + ANSWER_BYTES);
  }
  await sleep(200);
  expect(socket!.isPaused()).toBe(true);
  expect(socket!.writableLength).toBeLessThan(WAITING_BYTES_MAX + ANSWER_BYTES);
  return asked;
}

/** The numbers of the requests that were answered, in their order. */
async function fetchAll(count: number): Promise<number[]> {
  const numbers: number[] = [];
  let rest: Buffer = Buffer.alloc(0);
  master.on('data', (chunk: Buffer) => {
    const taken = takeFrames(Buffer.concat([rest, chunk]))!;
    rest = taken.rest;
    for (const { transaction } of taken.frames) numbers.push(transaction);
  });
  master.resume();
  for (let i = 0; i < 100 && numbers.length < count; i++) await sleep(50);
  return numbers;
}

describe.each([16_384, 65_536])('where streams hold %i bytes for much', (defaultBytes) => {
  it.each([5, 2_000])(
    'a master that asks for %i answers at a time and fetches late gets all of them, and little waits',
    async (portion) => {
      setDefaultHighWaterMark(false, defaultBytes);
      const image = Buffer.alloc(250);
      server = new ModbusServer({ clientsMax: 2, idleMs: 60_000, unitId: 1 }, () => image);
      const port = await server.listen('127.0.0.1', 0);
      master = connect(port, '127.0.0.1');
      await new Promise((resolve) => master.once('connect', resolve));
      await sleep(20);
      const asked = await askWithoutFetching(portion);
      const numbers = await fetchAll(asked);
      expect(numbers).toHaveLength(asked);
      expect(numbers.every((number, i) => number === (i & 0xffff))).toBe(true);
    },
  );
});
