/** Loads that go on past failures and past streams of events, without a browser. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { loadOneByOne } from '../../src/page/data/one-by-one.js';
import { watchUntil } from '../../src/page/data/watch-until.js';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

describe('something that is watched', () => {
  function watch(answers: (number | Error)[], goesOn = true) {
    const told: (number | string)[] = [];
    const end = watchUntil<number>({
      everyMs: 100,
      load: () => {
        const next = answers.shift() ?? 0;
        return next instanceof Error ? Promise.reject(next) : Promise.resolve(next);
      },
      take: (found) => told.push(found),
      isOver: (found) => found >= 100,
      fail: (error) => {
        told.push((error as Error).message);
        return goesOn;
      },
    });
    return { told, end };
  }

  it('is asked for until it is over, past answers that do not come', async () => {
    const { told } = watch([10, new Error('a'), new Error('b'), 40, 100, 7]);
    await vi.advanceTimersByTimeAsync(5_000);
    expect(told).toEqual([10, 'a', 'b', 40, 100]);
  });

  it('is let go where it is gone, and where nobody looks any more', async () => {
    const { told } = watch([10, new Error('gone'), 40], false);
    const other = watch([10, 20, 30]);
    await vi.advanceTimersByTimeAsync(120);
    other.end();
    await vi.advanceTimersByTimeAsync(5_000);
    expect(told).toEqual([10, 'gone']);
    expect(other.told).toEqual([10, 20]);
  });
});

describe('a load that is wished for by a stream', () => {
  function slow(ms: number) {
    const begun: number[] = [];
    let ended = 0;
    let aborted = 0;
    const loads = loadOneByOne(async (signal) => {
      begun.push(Date.now());
      signal.addEventListener('abort', () => (aborted += 1));
      await new Promise((resolve) => setTimeout(resolve, ms));
      ended += 1;
    }, 300);
    return { loads, begun, tell: () => ({ ended, aborted }) };
  }

  it('comes to its end each time, one at a time, with half of the time left to others', async () => {
    const { loads, begun, tell } = slow(2_000);
    for (let i = 0; i < 190; i++) {
      loads.wish();
      await vi.advanceTimersByTimeAsync(100);
    }
    // 19 s of wishes: each load takes 2 s and is followed by as long a pause
    expect(tell()).toEqual({ ended: 5, aborted: 0 });
    expect(begun.slice(1).map((at, i) => at - begun[i]!)).toEqual([4_000, 4_000, 4_000, 4_000]);
    loads.end();
  });

  it('answers wishes that come together once, and those that come meanwhile once more', async () => {
    const { loads, begun, tell } = slow(50);
    await vi.advanceTimersByTimeAsync(100);
    loads.wish();
    loads.wish();
    await vi.advanceTimersByTimeAsync(320);
    expect(begun).toHaveLength(2);
    loads.wish();
    await vi.advanceTimersByTimeAsync(5_000);
    expect(tell()).toEqual({ ended: 3, aborted: 0 });
    loads.wish();
    loads.end();
    await vi.advanceTimersByTimeAsync(5_000);
    expect(begun).toHaveLength(3);
  });
});
