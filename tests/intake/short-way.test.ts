/** Publishes that never reach the library, and what lies between them in the stream that must. */
import type { Socket } from 'node:net';
import { generate, parser, type Packet } from 'mqtt-packet';
import { afterEach, describe, expect, it } from 'vitest';
import { INCOMPLETE, OTHER, UsualPublish } from '../../src/intake/usual-publish.js';
import { pause, startBrokerRig, until, type BrokerRig } from './broker-rig.js';

const TOPIC = 'workshop/in/pump-1/de/reading';
const CONNECT = { cmd: 'connect', clientId: 'raw', protocolId: 'MQTT', protocolVersion: 4 } as const;

function publish(messageId: number, payload: string, more: { topic?: string; dup?: boolean } = {}): Buffer {
  const { topic = TOPIC, dup = false } = more;
  return generate({ cmd: 'publish', topic, payload, qos: 1, messageId, retain: false, dup });
}

describe('the usual publish', () => {
  const found = new UsualPublish();

  it.each(['', 'x', 'x'.repeat(100), 'x'.repeat(20_000)])('is found whole, %#', (payload) => {
    const packet = publish(0x1234, payload, { dup: payload.length === 1 });
    const chunk = Buffer.concat([Buffer.from([0xc0, 0]), packet, Buffer.from([0xc0, 0])]);
    expect(found.find(chunk, 2)).toBe(packet.length);
    expect(found.messageId).toBe(0x1234);
    expect(chunk.toString('utf8', found.topicFrom, found.topicTo)).toBe(TOPIC);
    expect(chunk.toString('utf8', found.payloadFrom, found.end)).toBe(payload);
    for (const length of [1, 2, 3, 10, packet.length - 1]) {
      expect(found.find(chunk.subarray(0, 2 + length), 2)).toBe(INCOMPLETE);
    }
  });

  it('is no other packet, and nothing that MQTT does not allow', () => {
    const other = { cmd: 'publish', topic: TOPIC, payload: 'x', dup: false } as const;
    const noTopic = [0x32, 5, 0, 0, 0, 1, 0x78];
    const topicBeyondEnd = [0x32, 6, 0, 9, 0x61, 0, 1, 0x78];
    const noIdentifier = [0x32, 6, 0, 1, 0x61, 0, 0, 0x78];
    const longLength = [0x32, 0xff, 0xff, 0xff, 0xff, 1];
    const packets = [
      generate({ ...other, qos: 0, retain: false }),
      generate({ ...other, qos: 1, retain: true, messageId: 1 }),
      generate({ ...other, qos: 2, retain: false, messageId: 1 }),
      generate({ cmd: 'pingreq' }),
      ...[noTopic, topicBeyondEnd, noIdentifier, longLength].map((bytes) => Buffer.from(bytes)),
    ];
    expect(packets.map((packet) => found.find(packet, 0))).toEqual(packets.map(() => OTHER));
  });
});

let rig: BrokerRig;

/** What the gateway answered so far, packet by packet. */
async function login(keepalive = 0): Promise<{ socket: Socket; answers: Packet[] }> {
  const socket = await rig.socket();
  const answers: Packet[] = [];
  const reader = parser();
  reader.on('packet', (packet) => answers.push(packet));
  socket.on('data', (chunk) => reader.parse(chunk));
  socket.write(generate({ ...CONNECT, clean: true, keepalive }));
  await until('logged in', () => answers.length === 1);
  return { socket, answers };
}

describe('on the short way', () => {
  afterEach(() => rig.stop());

  it.each([1, 2, 3, 4])('a mixed stream in pieces of any size keeps its order, seed %i', async (seed) => {
    rig = await startBrokerRig({ limits: { pendingPerClientMax: 7 } });
    rig.isSettling = true;
    let state = seed;
    const draw = (end: number): number => {
      state = (Math.imul(state, 1_103_515_245) + 12_345) & 0x7fffffff;
      return Math.floor((state / 0x80000000) * end);
    };
    const packets: Buffer[] = [];
    const wanted: string[] = [];
    const wantedIds: number[] = [];
    for (let i = 1; i <= 300; i++) {
      const payload = `${i}:${'x'.repeat(draw(10) === 0 ? 6_000 : draw(50))}`;
      const kind = draw(12);
      const retain = kind === 1;
      if (kind === 0) packets.push(generate({ cmd: 'pingreq' }));
      const qos = kind === 2 ? 0 : 1;
      if (qos === 1) wantedIds.push(i);
      wanted.push(payload);
      packets.push(
        generate({ cmd: 'publish', topic: TOPIC, payload, qos, messageId: i, retain, dup: kind === 3 }),
      );
    }
    const { socket, answers } = await login();
    const stream = Buffer.concat(packets);
    for (let at = 0; at < stream.length;) {
      const bytes = 1 + draw(draw(3) === 0 ? 20 : 3_000);
      socket.write(stream.subarray(at, at + bytes));
      at += bytes;
      if (draw(4) === 0) await pause(1);
    }
    await until('all in', () => rig.frames.length === wanted.length);
    expect(rig.frames.map(({ payload }) => payload)).toEqual(wanted);
    const ids = (): number[] => answers.flatMap((a) => (a.cmd === 'puback' ? [a.messageId!] : []));
    await until('all acknowledged', () => ids().length === wantedIds.length);
    expect(ids()).toEqual(wantedIds);
    expect(rig.intake.figures()).toMatchObject({ received: 300, acknowledged: 300, pendingBytes: 0 });
  });

  it('a publish that comes with its CONNECT is acknowledged, and those behind it in order', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const socket = await rig.socket();
    const said: Buffer[] = [];
    socket.on('data', (chunk) => said.push(chunk));
    socket.write(Buffer.concat([generate({ ...CONNECT, clean: true, keepalive: 0 }), publish(1, 'a')]));
    for (let id = 2; id <= 20; id++) {
      socket.write(publish(id, 'b'));
      await pause(1);
    }
    await until('acknowledged', () => Buffer.concat(said).length >= 84);
    const bytes = Buffer.concat(said);
    expect(bytes.length).toBe(84);
    expect(Array.from({ length: 20 }, (_, i) => bytes[4 + i * 4 + 3])).toEqual(
      Array.from({ length: 20 }, (_, i) => i + 1),
    );
  });

  it('every publish is a sign of life, and silence ends the connection', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const { socket, answers } = await login(1);
    let isClosed = false;
    socket.once('close', () => (isClosed = true));
    for (let id = 1; id <= 12; id++) {
      socket.write(publish(id, 'x'));
      await pause(250);
    }
    expect(isClosed).toBe(false);
    expect(answers).toHaveLength(13);
    await until('cut', () => isClosed, 4_000);
  });

  it.each([
    ['a topic with a wildcard', publish(7, 'x', { topic: 'workshop/in/pump-1/de/reading' })],
    ['an identifier of 0', publish(7, 'x')],
    ['a topic longer than the packet', publish(7, 'x')],
  ])('%s is the library’s to refuse', async (what, bad) => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const { socket, answers } = await login();
    const isClosed = new Promise((resolve) => socket.once('close', resolve));
    socket.write(publish(6, 'good'));
    await until('acknowledged', () => answers.length === 2);
    if (what.includes('wildcard')) bad[4] = 0x23;
    else if (what.includes('identifier')) bad.writeUInt16BE(0, 4 + TOPIC.length);
    else bad.writeUInt16BE(60_000, 2);
    socket.write(bad);
    await isClosed;
    expect(rig.frames.filter((frame) => !frame.isSessionEnd).map(({ payload }) => payload)).toEqual(['good']);
  });
});
