/** Attempts to connect that overlap: the edge node's own one and the one that it is told to make. Without a broker. */
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { Catalogue } from '../../../src/forward/sparkplug/catalogue.js';
import { Connection } from '../../../src/forward/sparkplug/connection.js';
import { EdgeNode } from '../../../src/forward/sparkplug/edge-node.js';
import { makeMemory } from './rig.js';

/** A connection that the test ends, and what was done to it. */
interface Line {
  readonly connection: Connection;
  readonly published: string[];
  isDropped: boolean;
  isEnded: boolean;
  lose(): void;
}

function makeLine(): Line {
  let tellClosed = (): void => undefined;
  let isOpen = true;
  const line = { published: [] as string[], isDropped: false, isEnded: false };
  const connection = {
    get isOpen() {
      return isOpen;
    },
    onClose: (act: () => void) => (tellClosed = act),
    listen: () => Promise.resolve(),
    publish: (topic: string) => line.published.push(topic),
    end: () => ((line.isEnded = true), Promise.resolve()),
    drop: () => (line.isDropped = true),
  } as unknown as Connection;
  return Object.assign(line, {
    connection,
    lose: () => {
      isOpen = false;
      tellClosed();
    },
  });
}

interface Attempt {
  resolve(connection: Connection): void;
  reject(error: Error): void;
}
let attempts: Attempt[];
let said: string[];
let node: EdgeNode;

beforeEach(() => {
  vi.useFakeTimers();
  attempts = [];
  said = [];
  vi.spyOn(Connection, 'open').mockImplementation(
    () => new Promise<Connection>((resolve, reject) => attempts.push({ resolve, reject })),
  );
  const options = {
    connection: {
      ...{ url: 'mqtt://127.0.0.1:1', clientId: 'pump-house', user: undefined, verifyServer: true },
      ...{ secrets: new Map<string, string>(), connectMs: 5_000 },
    },
    ...{ group: 'tarn-hollow', node: 'pump-house', primaryHost: null, rebirthMs: 10_000 },
  };
  node = new EdgeNode(options, new Catalogue(makeMemory()), {
    ...{ now: () => Date.now(), steady: () => performance.now(), onHostLost: () => undefined },
    log: (_level, _facts, text) => said.push(text),
  });
});
afterEach(async () => {
  await node.close();
  vi.restoreAllMocks();
  vi.useRealTimers();
});

const signal = new AbortController().signal;
/** Far beyond every pause between attempts. */
const waitLong = (): Promise<unknown> => vi.advanceTimersByTimeAsync(120_000);

/** Born, its connection lost, and its own next attempt under way. */
async function loseFirst(): Promise<void> {
  const opening = node.open(signal);
  await vi.advanceTimersByTimeAsync(0);
  const first = makeLine();
  attempts[0]!.resolve(first.connection);
  await opening;
  expect(node.readState()).toBe('born');
  first.lose();
  await vi.advanceTimersByTimeAsync(1_000);
  expect(attempts).toHaveLength(2);
}

it('an attempt of its own that was overtaken and fails takes nothing from the connection that stands', async () => {
  await loseFirst();
  const opening = node.open(signal);
  await vi.advanceTimersByTimeAsync(0);
  expect(attempts).toHaveLength(3);
  // the overtaken one fails while the newer one is under way
  attempts[1]!.reject(new Error('refused'));
  await vi.advanceTimersByTimeAsync(0);
  const second = makeLine();
  attempts[2]!.resolve(second.connection);
  await opening;
  await waitLong();
  expect(attempts).toHaveLength(3);
  expect(said).toEqual([]);
  expect(second).toMatchObject({ isDropped: false, isEnded: false });
  expect(second.published).toEqual(['spBv1.0/tarn-hollow/NBIRTH/pump-house']);
  expect(node.readState()).toBe('born');
});

it('an attempt that was overtaken and succeeds lets go of what it got, and nothing more', async () => {
  await loseFirst();
  const opening = node.open(signal);
  await vi.advanceTimersByTimeAsync(0);
  const [late, good] = [makeLine(), makeLine()];
  attempts[1]!.resolve(late.connection);
  await vi.advanceTimersByTimeAsync(0);
  attempts[2]!.resolve(good.connection);
  await opening;
  await waitLong();
  expect(attempts).toHaveLength(3);
  expect([late.isDropped, good.isDropped]).toEqual([true, false]);
  expect(node.readState()).toBe('born');
});

it('an attempt of its own that fails is made again', async () => {
  await loseFirst();
  attempts[1]!.reject(new Error('refused'));
  await waitLong();
  expect(attempts).toHaveLength(3);
  expect(said).toEqual(['the broker cannot be reached']);
  const line = makeLine();
  attempts[2]!.resolve(line.connection);
  await vi.advanceTimersByTimeAsync(0);
  expect(node.readState()).toBe('born');
});
