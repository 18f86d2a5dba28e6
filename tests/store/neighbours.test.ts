/** The readings around a place of a chain are the same that a plain look through all of them finds. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Increment } from '../../src/core/rows.js';
import { openStore, type Store } from '../../src/store/store.js';
import { seeded } from '../support/little-plant.js';
import { commit, increment, makeFolder, need, outputs, START, stored } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
let store: Store;
beforeEach(() => {
  folder = makeFolder();
  store = openStore(folder.dir);
});
afterEach(() => {
  store.close();
  folder.remove();
});

function lookThrough(rows: readonly Increment[], bySeq: boolean, least: number, most: number): Increment[] {
  const place = (row: Increment): number => (bySeq ? row.seq! : row.to);
  const chain = [...rows].sort((a, b) => place(a) - place(b) || (a.seq ?? -1) - (b.seq ?? -1));
  const first = chain.filter((row) => place(row) < least).length;
  const end = chain.filter((row) => place(row) <= most).length;
  return chain.slice(Math.max(0, first - 4), end + 4).map(stored);
}

describe('neighbours', () => {
  it.each([1, 2, 3, 4])('by seq and by time, with gaps, clock steps and late rows (seed %i)', (seed) => {
    const random = seeded(seed);
    const rows: Increment[] = [];
    let seq = Math.floor(random() * 5000);
    let to = START;
    for (let i = 0; i < 3000; i++) {
      seq += random() < 0.01 ? Math.floor(random() * 4000) : 1;
      to += random() < 0.002 ? Math.floor((random() - 0.5) * 86_400_000) : 10_000;
      rows.push(increment({ seq, to: to + Math.floor(random() * 1000) }));
    }
    const unique = [...new Map(rows.map((row) => [row.to, row])).values()];
    const shuffled = [...unique].sort(() => random() - 0.5);
    for (let i = 0; i < shuffled.length; i += 100) {
      if (i % 700 === 0) {
        store.begin();
        store.apply(outputs({ increments: shuffled.slice(i, i + 50).map((row) => ({ ...row })) }));
        store.rollback();
      }
      commit(store, outputs({ increments: shuffled.slice(i, i + 100).map((row) => ({ ...row })) }));
    }
    const other = unique.map((row) => ({ ...row, chain: 2, count: 7 }));
    commit(store, outputs({ increments: other }));
    if (seed % 2 === 0) {
      store.close();
      store = openStore(folder.dir);
    }
    for (let i = 0; i < 200; i++) {
      const bySeq = i % 4 !== 0;
      const row = unique[Math.floor(random() * unique.length)]!;
      const least = (bySeq ? row.seq! : row.to) + Math.floor((random() - 0.5) * 3000);
      const most = least + Math.floor(random() * (i % 3 === 0 ? 3000 : 3));
      const ask = { sensor: 'pump-1/de', chain: 1, bySeq, least, most };
      expect(store.answer(need({ neighbours: ask })).neighbours).toEqual(
        lookThrough(unique, bySeq, least, most),
      );
    }
  });

  it('of a chain that is not there are none', () => {
    const ask = { sensor: 'pump-1/de', chain: 9, bySeq: true, least: 0, most: 9 };
    expect(store.answer(need({ neighbours: ask })).neighbours).toEqual([]);
  });
});
