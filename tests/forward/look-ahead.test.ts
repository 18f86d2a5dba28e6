/** Two batches on their way at a time: they are written down in their order, and come again together when one is lost. */
import { afterEach, expect, test } from 'vitest';
import type { SinkRecord } from '../../src/forward/sink.js';
import { openReader } from '../../src/store/reader.js';
import { ForwardRig, settingsOf } from './forward-rig.js';
import type { MemoryReceiver } from './memory-sink.js';

const SENSORS = ['pump-1/de', 'pump-1/nde', 'fan-a/de'];
const MOST = 20;

let rig: ForwardRig;
afterEach(() => rig.close());

interface Call {
  readonly first: string;
  answer(): void;
}

/** Many records wait, and the receiver answers each call when it is told to, once the first two were answered at once. */
async function begin(callsAtOnce = 2): Promise<{ receiver: MemoryReceiver; calls: Call[] }> {
  rig = new ForwardRig(SENSORS);
  const receiver = rig.receiver('plant');
  receiver.callsAtOnce = callsAtOnce;
  receiver.isDead = true;
  rig.start([settingsOf('plant', { retryMostMs: 1_000 })], MOST);
  for (let i = 0; i < 80; i++) rig.closeMinute();
  await rig.clock.pass(30_000, 500);
  const calls: Call[] = [];
  receiver.hold = (records: readonly SinkRecord[], signal) => {
    // it is found to be fast
    if (calls.length === 0 && receiver.count < 2 * MOST) return Promise.resolve();
    return new Promise((resolve) => {
      signal.addEventListener('abort', () => resolve());
      calls.push({ first: records[0]!.key, answer: resolve });
    });
  };
  receiver.isDead = false;
  await rig.clock.pass(1_500, 100);
  return { receiver, calls };
}

const delivered = (): number =>
  rig.forwarder.ledger('plant').lines.reduce((sum, line) => sum + line.delivered, 0);

function expectComplete(receiver: MemoryReceiver): void {
  const reader = openReader(rig.folder.dir);
  const stored = (['1m', '10m', '1h'] as const).flatMap((period) =>
    reader
      .rollups({ sensor: null, period, from: null, to: null, limit: 10_000, cursor: null })
      .items.map(({ sensor, start, revision }) => `${sensor}|${period}|${start} ${revision}`),
  );
  reader.close();
  const held = receiver.held().filter(({ stream }) => stream === 'rollups');
  expect(held.map(({ key, revision }) => `${key} ${revision}`).sort()).toEqual(stored.sort());
  expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
}

async function goOn({ receiver, calls }: { receiver: MemoryReceiver; calls: Call[] }): Promise<void> {
  receiver.hold = () => Promise.resolve();
  for (const call of calls) call.answer();
  await rig.clock.pass(30_000, 500);
  expectComplete(receiver);
}

test('the second is sent behind the first, and is not written down before it', async () => {
  const scene = await begin();
  const { calls } = scene;
  expect(calls).toHaveLength(2);
  expect(calls[0]!.first).not.toBe(calls[1]!.first);
  const before = delivered();
  calls[1]!.answer();
  await rig.clock.pass(500, 100);
  expect(delivered()).toBe(before);
  expect(calls).toHaveLength(2);
  calls[0]!.answer();
  await rig.clock.pass(500, 100);
  expect(delivered()).toBe(before + 2 * MOST);
  await goOn(scene);
});

test('the first one is lost: both come again, and each is counted once', async () => {
  const scene = await begin();
  const { receiver, calls } = scene;
  const lost = calls.slice(0, 2).map(({ first }) => first);
  const before = delivered();
  calls[1]!.answer();
  await rig.clock.settle();
  receiver.isDead = true;
  calls[0]!.answer();
  await rig.clock.pass(3_000, 100);
  expect(delivered()).toBe(before);
  const again: string[] = [];
  receiver.onBatch = (records) => again.push(records[0]!.key);
  receiver.isDead = false;
  await goOn(scene);
  expect(again).toEqual(expect.arrayContaining(lost));
});

test('the gateway ends between two: both come again', async () => {
  const scene = await begin();
  const before = delivered();
  scene.calls[1]!.answer();
  await rig.clock.settle();
  await rig.stopForwarder();
  rig.start([settingsOf('plant')], MOST);
  expect(delivered()).toBe(before);
  await goOn(scene);
});

test('a silent receiver ends both at the deadline, and nothing of them is written down', async () => {
  const scene = await begin();
  const before = delivered();
  await rig.clock.pass(9_000, 100);
  expect(delivered()).toBe(before);
  expect(rig.forwarder.status()[0]!.state).toBe('failing');
  await goOn(scene);
});

test('new records go ahead of the backlog, behind at most what is on its way', async () => {
  const scene = await begin();
  const { receiver, calls } = scene;
  rig.closeMinute();
  await rig.clock.pass(1_000, 100);
  const sent: string[] = [];
  receiver.onBatch = (records) => sent.push(...records.map(({ key, isBacklog }) => `${isBacklog} ${key}`));
  receiver.hold = () => Promise.resolve();
  for (const call of calls) call.answer();
  await rig.clock.settle();
  expect(sent.findIndex((key) => key.startsWith('false'))).toBe(2 * MOST);
  await goOn(scene);
});

test('a sink with one call at a time has the next batch read, and not sent', async () => {
  const scene = await begin(1);
  expect(scene.calls).toHaveLength(1);
  await goOn(scene);
});

test('what must find nothing on its way waits for it: expiry and the test record', async () => {
  const scene = await begin();
  const test = rig.forwarder.test('plant');
  await rig.clock.pass(1_000, 100);
  expect(scene.calls).toHaveLength(2);
  await goOn(scene);
  expect(await test).toBeNull();
});
