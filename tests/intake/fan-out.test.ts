import type { Socket } from 'node:net';
import { expect, it } from 'vitest';
import { FanOut } from '../../src/intake/fan-out.js';
import { pause } from './broker-rig.js';

function makeFanOut(lags: boolean) {
  const cut: string[] = [];
  const fanOut = new FanOut(
    'workshop',
    (_socket, reason) => cut.push(reason),
    () => undefined,
  );
  const socket = { destroyed: false, writableNeedDrain: lags, bytesWritten: 0, writableLength: 0 };
  fanOut.add('panel', socket as unknown as Socket, 'workshop/#');
  const done: (() => void)[] = [];
  const fill = (count: number, bytes: number): void => {
    for (let i = 0; i < count; i++) fanOut.deliver(bytes, (delivered) => done.push(delivered));
  };
  const finish = (): void => {
    while (done.length > 0) done.shift()!();
  };
  return { fanOut, cut, fill, finish };
}

it.each([
  [25_000, 100],
  [1_000, 65_536],
])('senders wait while %i messages of %i bytes wait that nobody is slow to read', async (count, bytes) => {
  const { fanOut, cut, fill, finish } = makeFanOut(false);
  fill(100, bytes);
  expect(fanOut.isShut()).toBe(false);
  fill(count, bytes);
  expect(fanOut.isShut()).toBe(true);
  let isWoken = false;
  fanOut.wait(() => (isWoken = true));
  await pause(50);
  expect(isWoken).toBe(false);
  finish();
  await pause(50);
  expect(isWoken).toBe(true);
  expect(fanOut.isShut()).toBe(false);
  expect(fanOut.underWay).toBe(0);
  expect(cut).toEqual([]);
});

it('nobody waits for a subscriber that is slow to read', () => {
  const { fanOut, fill } = makeFanOut(true);
  fill(25_000, 100);
  expect(fanOut.isShut()).toBe(false);
});
