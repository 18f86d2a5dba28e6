/** Rollups add up and number their revisions; 10 s windows are the sums of their increments. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Class, Flag, type Period } from '../../src/core/words.js';
import { openReader } from '../../src/store/reader.js';
import { openStore, type Store } from '../../src/store/store.js';
import { balancedCounter, commit, increment, makeFolder, outputs, rollup, START } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
let store: Store;
beforeEach(() => {
  folder = makeFolder();
  store = openStore(folder.dir);
  commit(store, outputs({ chains: [{ id: 1, sensor: 'pump-1/de', device: 'SN-1', boot: null }] }));
});
afterEach(() => {
  store.close();
  folder.remove();
});

function read(period: Period, limit = 1000, range: { from?: number; to?: number; sensor?: string } = {}) {
  const reader = openReader(folder.dir);
  const items = [];
  let cursor: string | null = null;
  do {
    const page = reader.rollups({
      ...{ sensor: range.sensor ?? null, period, limit, cursor },
      ...{ from: range.from ?? null, to: range.to ?? null },
    });
    items.push(...page.items);
    cursor = page.next;
  } while (cursor !== null);
  reader.close();
  return items;
}

describe('stored rollups', () => {
  it('the first addition is revision 0, each further one adds and raises it; the whole row comes back', () => {
    const [first] = commit(store, outputs({ rollups: [rollup(5, 60_000)] })).rollups;
    expect(first).toEqual({ ...rollup(5, 60_000), revision: 0 });
    const [second] = commit(store, outputs({ rollups: [rollup(-2, -10_000, { uncertainMs: 4 })] })).rollups;
    expect(second).toEqual({ ...rollup(3, 50_000, { uncertainMs: 4 }), revision: 1 });
    expect(read('1m')).toEqual([second]);
  });

  it('each class has its own columns', () => {
    const pulses = [0, 1, 2, 3, 4, 5, 6, 7, 0];
    const ms = [0, 10, 20, 30, 40, 50, 60, 70, 0];
    for (const period of ['1m', '10m', '1h'] as const) {
      const add = rollup(0, 0, { period, pulses, ms, uncertainMs: 9 });
      expect(commit(store, outputs({ rollups: [add] })).rollups).toEqual([{ ...add, revision: 0 }]);
      expect(read(period)).toEqual([{ ...add, revision: 0 }]);
    }
  });

  it('one that has become empty is not told any more', () => {
    commit(store, outputs({ rollups: [rollup(5, 100), rollup(-5, -100)] }));
    expect(read('1m')).toEqual([]);
  });
});

describe('10 s windows', () => {
  const window = (pulses: number, ms: number, revision = 0) => ({
    ...rollup(pulses, ms),
    ...{ period: '10s', start: START, revision },
  });

  it('hold what ends in them, their own end included; a revision sums them anew', () => {
    const rows = [
      increment({ to: START, pulses: 100 }),
      increment({ to: START + 1, from: START - 999, pulses: 1, flags: Flag.uncertain }),
      increment({ to: START + 10_000, pulses: 2, seq: 2 }),
      increment({ to: START + 10_001, pulses: 100, seq: 3 }),
    ];
    commit(store, outputs({ increments: rows }));
    expect(read('10s', 10, { from: START, to: START + 1 })).toEqual([
      { ...window(3, 11_000), uncertainMs: 1000 },
    ]);
    rows[2]!.pulses = 7;
    const revised = { sensor: 'pump-1/de', start: START };
    const out = outputs({ increments: [rows[2]!], windowsRevised: [revised, revised] });
    expect(commit(store, out).rollups).toEqual([{ ...window(8, 11_000, 1), uncertainMs: 1000 }]);
    expect(read('10s', 10, { from: START, to: START + 1 })).toEqual([
      { ...window(8, 11_000, 1), uncertainMs: 1000 },
    ]);
    expect(commit(store, outputs({ windowsRevised: [revised] })).rollups[0]!.revision).toBe(2);
  });

  it('are not told while an increment in them is pending', () => {
    const rows = [increment({ to: START + 1 }), increment({ to: START + 2, seq: 2, class: Class.pending })];
    commit(store, outputs({ increments: rows }));
    expect(read('10s')).toEqual([]);
  });

  it('pages lose none and double none, with many increments in a window too', () => {
    const rows = [];
    for (let i = 0; i < 9000; i++) rows.push(increment({ to: START + 1 + i * 500, seq: i, pulses: 1 }));
    commit(store, outputs({ increments: rows }));
    commit(store, balancedCounter(50, { sensor: 'pump-1/nde', chain: 2 }));
    const whole = read('10s', 100_000);
    expect(whole.filter((row) => row.sensor === 'pump-1/de')).toHaveLength(450);
    expect(whole.reduce((sum, row) => sum + row.pulses[Class.running]!, 0)).toBe(
      9000 + read('1m', 1000, { sensor: 'pump-1/nde' }).reduce((s, r) => s + r.pulses[Class.running]!, 0),
    );
    for (const limit of [1, 7, 400]) expect(read('10s', limit)).toEqual(whole);
  });
});
