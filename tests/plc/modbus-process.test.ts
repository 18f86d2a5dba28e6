/** The Modbus server as others see it: read by two masters and a dissector that other people wrote. Needs the build. */
import { mkdtempSync, rmSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { WORD_ORDERS } from '../../src/plc/word-order.js';
import { writeFrame } from '../../src/plc/modbus-frames.js';
import { runToEnd, sleep } from '../support/child.js';
import { canRun, tellMissing } from '../support/programs.js';
import { askPymodbus, HAS_MBPOLL, HAS_PYMODBUS, poll, valuesOf } from './modbus-masters.js';
import type { Served } from './served-process.js';
import { serveRegisters } from './served-registers.js';
import { alarmNews, driveNews, rateNews, smallPlant } from './small-plant.js';
import { writeCapture } from './wire-tap.js';

const HAS_TSHARK = tellMissing(canRun('tshark', ['--version']), 'dissecting Modbus with tshark', 'tshark');
const RATE = 80;
const TEST_VALUE = 305_419_896;
const UNKNOWN = 4_294_967_295;
/** How a master must be set to read each order: bytes of a register, registers of a value. */
const ENDS = {
  ABCD: ['big', 'big'],
  CDAB: ['big', 'little'],
  BADC: ['little', 'big'],
  DCBA: ['little', 'little'],
} as const;

let served: Served;
const sockets: Socket[] = [];
afterEach(async () => {
  for (const socket of sockets.splice(0)) socket.destroy();
  await served.stop();
});

function open(): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connect(served.port, '127.0.0.1', () => resolve(socket));
    socket.on('error', reject);
    sockets.push(socket);
  });
}

/** One request over a connection; null: it was closed. */
function ask(socket: Socket, request: Buffer): Promise<Buffer | null> {
  return new Promise((resolve) => {
    socket.once('data', (answer: Buffer) => resolve(answer));
    socket.once('close', () => resolve(null));
    socket.write(request);
  });
}

const readTest = writeFrame(1, 1, Buffer.from([3, 0, 0, 0, 2]));
const nowRate = (change: Parameters<typeof rateNews>[0] = {}) =>
  rateNews({ at: Date.now(), runningAt: Date.now(), ...change });

describe.runIf(HAS_PYMODBUS)('pymodbus', () => {
  it.each(WORD_ORDERS)('reads the test pair and a rate in the order %s', async (wordOrder) => {
    served = await serveRegisters({ wordOrder });
    await served.beat({ rates: [nowRate({ ratePerMin: 98_765.43 })] });
    const [byteorder, wordorder] = ENDS[wordOrder];
    const answers = await askPymodbus(served.port, [
      { do: 'holding', address: 0, count: 2, byteorder, wordorder },
      { do: 'holding', address: RATE, count: 2, byteorder, wordorder },
      { do: 'input', address: RATE, count: 2, byteorder, wordorder },
      { do: 'holding', address: 2, count: 2 },
    ]);
    expect(answers.map(({ value }) => value)).toEqual([TEST_VALUE, 9_876_543, 9_876_543, undefined]);
    expect(answers[3]!.registers).toEqual([1, WORD_ORDERS.indexOf(wordOrder)]);
  });

  it('is refused every write, and every register beyond the map', async () => {
    served = await serveRegisters();
    await served.beat({ rates: [nowRate()] });
    const answers = await askPymodbus(served.port, [
      { do: 'write', address: RATE },
      { do: 'write-many', address: RATE },
      { do: 'write-coil', address: 0 },
      { do: 'holding', address: 319, count: 2 },
      { do: 'holding', address: 0, count: 2, unit: 9 },
      { do: 'holding', address: 318, count: 2 },
      { do: 'holding', address: RATE, count: 2 },
    ]);
    expect(answers.map(({ exception }) => exception)).toEqual([1, 1, 1, 2, 11, undefined, undefined]);
    expect(answers[5]!.registers).toEqual([65_535, 65_535]);
    expect(answers[6]!.registers).toEqual([0, 1234]);
  });
});

describe.runIf(HAS_MBPOLL)('mbpoll', () => {
  const rate = async (): Promise<number> =>
    valuesOf(await poll(served.port, RATE, 1, ['-t', '4:int', '-B']))[0]! >>> 0;

  it('reads a value, then unknown when it is too old, and its age all the while', async () => {
    const plant = smallPlant();
    served = await serveRegisters({
      plant: { ...plant, sensors: plant.sensors.map((one) => ({ ...one, staleMs: 2_500, goodMs: 2_500 })) },
    });
    expect(await rate()).toBe(UNKNOWN);
    await served.beat({ rates: [nowRate()] });
    expect(await rate()).toBe(1234);
    await sleep(3_000);
    await served.beat();
    expect(await rate()).toBe(UNKNOWN);
    const [quality, age] = valuesOf(await poll(served.port, RATE + 6, 2));
    expect(quality).toBe(3);
    expect(age).toBeGreaterThanOrEqual(3);
    expect(age).toBeLessThan(20);
  });

  it('reads the states of motors and alarms, and that the gateway lives', async () => {
    served = await serveRegisters();
    await served.beat({
      drives: [driveNews({ at: Date.now(), since: Date.now() - 5_000 })],
      alarms: [alarmNews('pump-1.de-rate-high')],
    });
    expect(valuesOf(await poll(served.port, 64, 8))).toEqual([3, 1, 0, 1, 2, 1, 1, 0]);
    const [first, status] = valuesOf(await poll(served.port, 4, 2));
    await sleep(2_200);
    const [second] = valuesOf(await poll(served.port, 4, 1));
    expect(status).toBe(0);
    expect(second).toBeGreaterThan(first!);
    await served.beat({}, false);
    expect(valuesOf(await poll(served.port, 64, 8))[3]).toBe(65_535);
    expect(valuesOf(await poll(served.port, 5, 1))).toEqual([1]);
  });

  it('is told what is wrong with a write and with an address', async () => {
    served = await serveRegisters();
    expect((await poll(served.port, 9_999, 1)).err).toMatch(/Illegal data address/);
    const written = await runToEnd('mbpoll', [
      '-m',
      'tcp',
      '-p',
      String(served.port),
      '-0',
      '-r',
      '80',
      '127.0.0.1',
      '5',
    ]);
    expect(written.err).toMatch(/Illegal function/);
    expect(written.code).not.toBe(0);
  });
});

describe.runIf(HAS_TSHARK)('tshark', () => {
  it('finds the registers in what went over the wire, and nothing malformed', async () => {
    served = await serveRegisters();
    const socket = await open();
    const requests = [
      readTest,
      writeFrame(2, 1, Buffer.from([4, 0, 80, 0, 3])),
      writeFrame(3, 1, Buffer.from([6, 0, 0, 0, 1])),
    ];
    const packets = [];
    for (const request of requests) {
      packets.push({ isRequest: true, bytes: request });
      packets.push({ isRequest: false, bytes: (await ask(socket, request))! });
    }
    const folder = mkdtempSync(join(tmpdir(), 'tallypost-wire-'));
    writeCapture(join(folder, 'wire.pcap'), packets, 502);
    const fields = ['modbus.func_code', 'modbus.exception_code', 'modbus.regval_uint16', '_ws.malformed'];
    const { out, code } = await runToEnd('tshark', [
      ...['-r', join(folder, 'wire.pcap'), '-T', 'fields', '-E', 'separator=|'],
      ...fields.flatMap((name) => ['-e', name]),
    ]);
    rmSync(folder, { recursive: true, force: true });
    expect(code).toBe(0);
    expect(out.trim().split('\n')).toEqual([
      '3|||',
      '3||4660,22136|',
      '4|||',
      '4||65535,65535,65535|',
      '6|||',
      '6|1||',
    ]);
  });
});

describe('many clients', () => {
  it('100 are answered at once, the next is turned away, and there is room again when one leaves', async () => {
    served = await serveRegisters();
    const clients = await Promise.all(Array.from({ length: 100 }, open));
    const answers = await Promise.all(clients.map((client) => ask(client, readTest)));
    for (const answer of answers) expect(answer?.subarray(9).toString('hex')).toBe('12345678');
    expect(await ask(await open(), readTest)).toBeNull();
    clients[0]!.destroy();
    await sleep(100);
    expect(await ask(await open(), readTest)).not.toBeNull();
    expect(await ask(clients[50]!, readTest)).not.toBeNull();
  });

  it('who is silent, speaks something else, or does not fetch answers is cut; the others go on', async () => {
    served = await serveRegisters({ idleMs: 1_500 });
    const [silent, other, greedy, good] = [await open(), await open(), await open(), await open()];
    const closed = [silent, greedy].map((one) => new Promise((resolve) => one.once('close', resolve)));
    expect(await ask(other, Buffer.from('GET / HTTP/1.1\r\n\r\n'))).toBeNull();
    greedy.pause();
    const many = Buffer.concat(
      Array.from({ length: 200_000 }, () => writeFrame(1, 1, Buffer.from([3, 0, 0, 0, 125]))),
    );
    greedy.write(many);
    for (let i = 0; i < 8; i++) {
      expect(await ask(good, readTest)).not.toBeNull();
      await sleep(300);
    }
    greedy.resume();
    await Promise.all(closed);
  });
});

it('tells the time of the gateway, and judges by it how old a value is', async () => {
  served = await serveRegisters();
  const aheadMs = 10_800_000;
  const at = Date.now() + aheadMs;
  await served.beat({ rates: [nowRate({ at, runningAt: at })] }, true, aheadMs);
  const master = await open();
  const askLong = async (address: number): Promise<number> =>
    (await ask(master, writeFrame(1, 1, Buffer.from([3, 0, address, 0, 2]))))!.readUInt32BE(9);
  const TIME = 8;
  expect(Math.abs(1_000 * (await askLong(TIME)) - Date.now() - aheadMs)).toBeLessThan(10_000);
  expect(await askLong(RATE)).toBe(1_234);
  // the same value, when the gateway's clock goes on by hours: it is hours old
  await served.beat({}, true, 2 * aheadMs);
  await sleep(300);
  expect(await askLong(RATE)).toBe(UNKNOWN);
});

it('ends with the gateway, by whatever way that goes', async () => {
  served = await serveRegisters();
  const gone = new Promise((resolve) => served.child.once('exit', resolve));
  served.child.disconnect();
  await gone;
  served = await serveRegisters();
});
