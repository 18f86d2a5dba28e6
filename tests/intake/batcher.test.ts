import { describe, expect, it } from 'vitest';
import { Batcher, type BatcherLimits, type SubmittedBatch } from '../../src/intake/batcher.js';
import { pause } from './broker-rig.js';

const LIMITS: BatcherLimits = {
  ...{
    countMax: 1_000,
    bytesMax: 100_000,
    pendingBytesMax: 1_000_000,
    minCommitIntervalMs: 0,
    namesMax: 100,
  },
};

function makeBatcher(limits: Partial<BatcherLimits> = {}) {
  const submitted: SubmittedBatch[] = [];
  const batcher = new Batcher<number>({ ...LIMITS, ...limits }, (batch) => submitted.push(batch));
  const add = (from: number, count: number, bytes = 10): void => {
    for (let i = from; i < from + count; i++) {
      const names = batcher.begin();
      batcher.add(0, 0, 1, names.numberOf('client'), names.numberOf(`topic-${i}`), new Uint8Array(bytes), i);
    }
  };
  return { batcher, submitted, add };
}

describe('a batch', () => {
  it('holds what came in one turn of the event loop; the next one fills while it is on its way', async () => {
    const { batcher, submitted, add } = makeBatcher();
    add(0, 3);
    expect(submitted).toHaveLength(0);
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([3]);
    add(3, 2);
    await pause(5);
    add(5, 2);
    await pause(5);
    expect(submitted).toHaveLength(1);
    expect(batcher.settle(submitted[0]!.id, null)).toEqual([0, 1, 2]);
    expect(submitted.map(({ count }) => count)).toEqual([3, 4]);
    expect(batcher.settle(submitted[1]!.id, null)).toEqual([3, 4, 5, 6]);
  });

  it('is closed at its count and its bytes, and the order stays', async () => {
    const { batcher, submitted, add } = makeBatcher({ countMax: 10, bytesMax: 400 });
    add(0, 25);
    add(25, 3, 300);
    await pause(5);
    const settled: number[] = [];
    for (let i = 0; i < submitted.length; i++)
      settled.push(...batcher.settle(submitted[i]!.id, submitted[i]!.buffer));
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([10, 10, 6, 2]);
    settled.push(...batcher.settle(submitted[3]!.id, null));
    expect(settled).toEqual(Array.from({ length: 28 }, (_, i) => i));
    expect(batcher.pendingBytes).toBe(0);
  });

  it('after a busy one waits a little for company, but not for ever', async () => {
    const { batcher, submitted, add } = makeBatcher();
    add(0, 50);
    await pause(5);
    add(50, 3);
    batcher.settle(submitted[0]!.id, null);
    expect(submitted).toHaveLength(1);
    add(53, 10);
    expect(submitted).toHaveLength(1);
    add(63, 1);
    expect(submitted.map(({ count }) => count)).toEqual([50, 14]);
    batcher.settle(submitted[1]!.id, null);
    add(400, 1);
    await pause(20);
    expect(submitted.map(({ count }) => count)).toEqual([50, 14, 1]);
  });
});

describe('behind a batch on its way', () => {
  it('another one follows when it has a quarter of all that wait, and a third one waits', async () => {
    const { batcher, submitted, add } = makeBatcher();
    add(0, 100);
    await pause(5);
    add(100, 80);
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([100]);
    batcher.settle(submitted[0]!.id, null);
    expect(submitted.map(({ count }) => count)).toEqual([100, 80]);
    add(180, 44);
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([100, 80]);
    add(224, 200);
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([100, 80, 45]);
    const since = batcher.waitingSince;
    expect(batcher.settle(submitted[1]!.id, submitted[1]!.buffer)).toHaveLength(80);
    expect(submitted.map(({ count }) => count)).toEqual([100, 80, 45, 199]);
    expect(batcher.waitingSince).toBeGreaterThanOrEqual(since!);
    expect(batcher.settle(submitted[3]!.id, null)).toEqual([]);
    expect(batcher.settle(submitted[2]!.id, null)[0]).toBe(180);
    expect(batcher.settle(submitted[3]!.id, null).at(-1)).toBe(423);
    expect([batcher.pendingBytes, batcher.waitingSince]).toEqual([0, null]);
  });

  it('none follows where few wait, or commits are to be rare', async () => {
    for (const [limits, count] of [
      [{}, 15],
      [{ minCommitIntervalMs: 1 }, 100],
    ] as const) {
      const { batcher, submitted, add } = makeBatcher(limits);
      add(0, count);
      await pause(5);
      batcher.settle(submitted[0]!.id, null);
      add(100, count);
      await pause(10);
      expect(submitted).toHaveLength(2);
      add(200, count);
      await pause(10);
      expect(submitted).toHaveLength(2);
    }
  });

  it('a full one follows at once', async () => {
    const { submitted, add } = makeBatcher({ countMax: 10 });
    add(0, 35);
    await pause(5);
    expect(submitted.map(({ count }) => count)).toEqual([10, 10]);
  });

  it('those who wait for either are given back when it is halted', async () => {
    const { batcher, submitted, add } = makeBatcher();
    add(0, 20);
    await pause(5);
    batcher.settle(submitted[0]!.id, null);
    add(20, 20);
    expect(submitted.map(({ count }) => count)).toEqual([20, 5, 5]);
    expect(batcher.halt()).toEqual(Array.from({ length: 20 }, (_, i) => 20 + i));
    expect(batcher.settle(submitted[1]!.id, null)).toEqual([]);
    batcher.resume();
    add(40, 1);
    await pause(5);
    expect(submitted[3]).toMatchObject({ count: 1, resetNames: true });
  });
});

describe('names', () => {
  it('are void once the table is full, and only from one batch to the next', async () => {
    const { batcher, submitted, add } = makeBatcher({ namesMax: 10 });
    add(0, 12);
    await pause(5);
    batcher.settle(submitted[0]!.id, null);
    add(0, 1);
    await pause(10);
    expect(submitted.map(({ names, resetNames }) => [names.length, resetNames])).toEqual([
      [13, false],
      [2, true],
    ]);
  });
});

describe('the sluice', () => {
  it('is shut at its bytes and wakes who waits when it opens', async () => {
    const { batcher, submitted, add } = makeBatcher({ pendingBytesMax: 1_000 });
    add(0, 40);
    await pause(5);
    expect(batcher.isShut()).toBe(true);
    let isAwake = false;
    batcher.wait(() => (isAwake = true));
    batcher.settle(submitted[0]!.id, null);
    await pause(5);
    expect([batcher.isShut(), isAwake]).toEqual([false, true]);
  });
});

it('halted gives back everybody who waits, and goes on afterwards with a table that is empty', async () => {
  const { batcher, submitted, add } = makeBatcher({ countMax: 4 });
  add(0, 10);
  await pause(5);
  expect(batcher.halt()).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
  add(10, 1);
  await pause(5);
  expect(submitted.map(({ count }) => count)).toEqual([4, 4]);
  batcher.resume();
  await pause(5);
  expect(submitted[2]).toMatchObject({ count: 1, resetNames: true, names: ['client', 'topic-10'] });
  expect(batcher.settle(submitted[0]!.id, null)).toEqual([]);
  expect(batcher.settle(submitted[1]!.id, null)).toEqual([]);
  expect(batcher.settle(submitted[2]!.id, null)).toEqual([10]);
});
