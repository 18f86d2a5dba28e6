import { afterEach, describe, expect, it } from 'vitest';
import { generate } from 'mqtt-packet';
import { FrameFlag } from '../../src/engine/frame-reader.js';
import { pause, startBrokerRig, until, type BrokerRig } from './broker-rig.js';

const TOPIC = 'workshop/in/pump-1/de/reading';
let rig: BrokerRig;
afterEach(() => rig.stop());

describe('an acknowledgement', () => {
  it('is held until the batch is settled', async () => {
    rig = await startBrokerRig();
    const client = await rig.connect();
    let isAcknowledged = false;
    const publish = client.publishAsync(TOPIC, 'x', { qos: 1 }).then(() => (isAcknowledged = true));
    await until('submitted', () => rig.frames.length === 1);
    await pause(200);
    expect(isAcknowledged).toBe(false);
    rig.settleAll();
    await publish;
    expect(rig.intake.figures()).toMatchObject({ received: 1, acknowledged: 1, pendingBytes: 0 });
  });

  it('of QoS 2 is held as well', async () => {
    rig = await startBrokerRig();
    const client = await rig.connect();
    let isAcknowledged = false;
    const publish = client.publishAsync(TOPIC, 'x', { qos: 2 }).then(() => (isAcknowledged = true));
    await until('submitted', () => rig.frames.length === 1);
    await pause(100);
    expect(isAcknowledged).toBe(false);
    rig.settleAll();
    await publish;
  });

  it('never comes when the engine fails: the client is cut, and its message taken when it comes back', async () => {
    rig = await startBrokerRig();
    const client = await rig.connect({ clientId: 'a' });
    const idle = await rig.connect({ clientId: 'idle' });
    let isAcknowledged = false;
    client.publish(
      TOPIC,
      'x',
      { qos: 1 },
      (error) => (isAcknowledged ||= error === undefined || error === null),
    );
    await until('submitted', () => rig.frames.length === 1);
    rig.intake.halt('the disk is full');
    await until('cut', () => !client.connected);
    expect(isAcknowledged).toBe(false);
    expect(idle.connected).toBe(true);
    await expect(rig.connect({ clientId: 'b' })).rejects.toThrow(/Server unavailable/);
    rig.intake.resume();
    rig.isSettling = true;
    const again = await rig.connect({ clientId: 'a' });
    await again.publishAsync(TOPIC, 'x', { qos: 1 });
    expect(rig.frames.filter((frame) => frame.payload === 'x')).toHaveLength(2);
  });
});

describe('order', () => {
  it('of one client is kept under load, in what is submitted and in what is acknowledged', async () => {
    rig = await startBrokerRig({ limits: { pendingPerClientMax: 50 } });
    rig.isSettling = true;
    const clients = await Promise.all(['a', 'b', 'c'].map((clientId) => rig.connect({ clientId })));
    const acknowledged = new Map<string, number[]>();
    await Promise.all(
      clients.flatMap((client) =>
        Array.from({ length: 500 }, async (_, i) => {
          await client.publishAsync(TOPIC, String(i), { qos: 1 });
          const id = client.options.clientId!;
          acknowledged.set(id, [...(acknowledged.get(id) ?? []), i]);
        }),
      ),
    );
    const wanted = Array.from({ length: 500 }, (_, i) => i);
    for (const id of ['a', 'b', 'c']) {
      expect(rig.frames.filter((frame) => frame.client === id).map((frame) => Number(frame.payload))).toEqual(
        wanted,
      );
      expect(acknowledged.get(id)).toEqual(wanted);
    }
  });
});

describe('what waits is bounded', () => {
  it('per client: the rest stays in its socket', async () => {
    rig = await startBrokerRig({ limits: { pendingPerClientMax: 10 } });
    const client = await rig.connect();
    const all = Promise.all(
      Array.from({ length: 100 }, (_, i) => client.publishAsync(TOPIC, String(i), { qos: 1 })),
    );
    await pause(300);
    expect(rig.intake.figures().received).toBeLessThanOrEqual(10);
    rig.isSettling = true;
    rig.settleAll();
    await all;
    expect(rig.frames.map((frame) => Number(frame.payload))).toEqual(
      Array.from({ length: 100 }, (_, i) => i),
    );
  });

  it('per client, also when every message comes in a segment of its own', async () => {
    rig = await startBrokerRig({ limits: { pendingPerClientMax: 10 } });
    const client = await rig.connect();
    const all: Promise<unknown>[] = [];
    for (let i = 0; i < 60; i++) {
      all.push(client.publishAsync(TOPIC, String(i), { qos: 1 }));
      await pause(2);
    }
    await pause(50);
    expect(rig.intake.figures().received).toBeLessThanOrEqual(10);
    rig.isSettling = true;
    rig.settleAll();
    await Promise.all(all);
    expect(rig.frames).toHaveLength(60);
  });

  it('over all clients: the sluice shuts', async () => {
    rig = await startBrokerRig({ limits: { pendingBytesMax: 65_536 } });
    const clients = await Promise.all(
      Array.from({ length: 20 }, (_, i) => rig.connect({ clientId: `c${i}` })),
    );
    const payload = 'x'.repeat(4_000);
    const all = Promise.all(
      clients.flatMap((client) =>
        Array.from({ length: 10 }, () => client.publishAsync(TOPIC, payload, { qos: 1 })),
      ),
    );
    await pause(400);
    const { pendingBytes, received } = rig.intake.figures();
    expect(received).toBeLessThan(200);
    // what one socket had read already still comes in behind the bound
    expect(pendingBytes).toBeLessThan(65_536 + 80_000);
    rig.isSettling = true;
    rig.settleAll();
    await all;
    expect(rig.frames).toHaveLength(200);
  });

  it('clients beyond the limit are turned away', async () => {
    rig = await startBrokerRig({ limits: { clientsMax: 2 } });
    await rig.connect();
    await rig.connect();
    const socket = await rig.socket();
    await new Promise((resolve) => socket.once('close', resolve));
    expect(rig.intake.figures().clients).toBe(2);
  });
});

describe('a packet', () => {
  it('that announces more than 8 KiB before login ends the connection before its bytes are taken', async () => {
    rig = await startBrokerRig();
    const socket = await rig.socket();
    const isClosed = new Promise((resolve) => socket.once('close', resolve));
    // a CONNECT of 90 MB: type 1, then the length in four bytes
    socket.write(Buffer.from([0x10, 0x80, 0x93, 0xf5, 0x2a]));
    await isClosed;
    expect(rig.warnings.map(({ text }) => text)).toContainEqual(
      expect.stringMatching(/a client was cut: a CONNECT of \d+ bytes, 8192 are allowed/),
    );
  });

  it('larger than configured ends the connection', async () => {
    rig = await startBrokerRig({ limits: { packetBytesMax: 2_048 } });
    const client = await rig.connect();
    client.publish(TOPIC, 'x'.repeat(4_000), { qos: 1 }, () => undefined);
    await until('cut', () => !client.connected);
    expect(rig.frames.filter((frame) => !frame.isSessionEnd)).toEqual([]);
    expect(rig.warnings.some(({ text }) => text.includes('a packet of 40'))).toBe(true);
  });

  it('that is no CONNECT ends a new connection', async () => {
    rig = await startBrokerRig();
    const socket = await rig.socket();
    const isClosed = new Promise((resolve) => socket.once('close', resolve));
    socket.write(generate({ cmd: 'publish', topic: TOPIC, payload: 'x', qos: 0, retain: false, dup: false }));
    await isClosed;
    expect(rig.frames).toEqual([]);
  });

  it('in pieces of one byte is taken all the same', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const socket = await rig.socket();
    const bytes = Buffer.concat([
      generate({
        cmd: 'connect',
        clientId: 'slow',
        protocolId: 'MQTT',
        protocolVersion: 4,
        clean: true,
        keepalive: 0,
      }),
      generate({
        cmd: 'publish',
        topic: TOPIC,
        payload: 'x',
        qos: 1,
        messageId: 7,
        retain: false,
        dup: false,
      }),
    ]);
    const answers: Buffer[] = [];
    socket.on('data', (chunk) => answers.push(chunk));
    for (const byte of bytes) {
      socket.write(Buffer.from([byte]));
      await pause(1);
    }
    await until('acknowledged', () => Buffer.concat(answers).length >= 8);
    expect(Buffer.concat(answers).subarray(4)).toEqual(Buffer.from([0x40, 2, 0, 7]));
  });
});

describe('the end of a session', () => {
  it('is a frame behind its messages, clean or not', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const polite = await rig.connect({ clientId: 'polite' });
    await polite.publishAsync(TOPIC, '1', { qos: 1 });
    await polite.endAsync();
    const rude = await rig.connect({ clientId: 'rude' });
    await rude.publishAsync(TOPIC, '2', { qos: 1 });
    rude.stream.destroy();
    await until('both ended', () => rig.frames.filter((frame) => frame.isSessionEnd).length === 2);
    expect(rig.frames.map(({ client, isSessionEnd, flags }) => [client, isSessionEnd, flags])).toEqual([
      ['polite', false, 0],
      ['polite', true, FrameFlag.clean],
      ['rude', false, 0],
      ['rude', true, 0],
    ]);
  });

  it('brings the will first, and a will that came while nothing could be stored is not lost', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const topic = 'workshop/in/pump-1/drive/presence';
    const will = { topic, payload: Buffer.from('{"online":false}'), qos: 1 as const, retain: true };
    const client = await rig.connect({ clientId: 'drive', will });
    await client.publishAsync('workshop/in/pump-1/drive/state', 's', { qos: 1 });
    rig.intake.halt('the disk is full');
    client.stream.destroy();
    await pause(100);
    expect(rig.frames).toHaveLength(1);
    rig.intake.resume();
    await until('carried', () => rig.frames.length === 3);
    expect(rig.frames.slice(1).map(({ topic: t, isSessionEnd }) => [t, isSessionEnd])).toEqual([
      [topic, false],
      ['', true],
    ]);
  });
});

it('names cross once, and start anew with a new engine', async () => {
  rig = await startBrokerRig();
  rig.isSettling = true;
  const client = await rig.connect({ clientId: 'a' });
  await client.publishAsync(TOPIC, '1', { qos: 1 });
  await client.publishAsync(TOPIC, '2', { qos: 1 });
  expect(rig.batches.map(({ names, resetNames }) => [names.length, resetNames])).toEqual([
    [2, true],
    [0, false],
  ]);
  rig.intake.halt('a new engine');
  rig.intake.resume();
  await client.publishAsync(TOPIC, '3', { qos: 1 });
  expect(rig.batches.at(-1)).toMatchObject({ names: [TOPIC, 'a'], resetNames: true });
  expect(rig.frames.at(-1)).toMatchObject({ topic: TOPIC, client: 'a', payload: '3' });
});

it('a least time between commits gathers what comes meanwhile', async () => {
  rig = await startBrokerRig({ minCommitIntervalMs: 300 });
  rig.isSettling = true;
  const client = await rig.connect();
  await client.publishAsync(TOPIC, '0', { qos: 1 });
  await Promise.all(Array.from({ length: 20 }, (_, i) => client.publishAsync(TOPIC, String(i), { qos: 1 })));
  expect(rig.batches.map(({ count }) => count)).toEqual([1, 20]);
});
