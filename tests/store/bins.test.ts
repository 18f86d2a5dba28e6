/** Condition bins in the store: sums that add up through revisions, and those of a store from before there were any. */
import Database from 'better-sqlite3';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { migrate } from '../../src/store/migration.js';
import { readBinHours } from '../../src/store/read-bins.js';
import { readDays, readSide } from '../../src/store/read-sides.js';
import { openReader } from '../../src/store/reader.js';
import { MIGRATIONS } from '../../src/store/schema.js';
import { openStore } from '../../src/store/store.js';
import { balancedCounter, commit, outputs, rollup, START } from './sample-rows.js';

let dir: string;
beforeEach(() => (dir = mkdtempSync(join(tmpdir(), 'tallypost-bins-'))));
afterEach(() => rmSync(dir, { recursive: true, force: true }));

const HOUR = Math.floor(START / 3_600_000) * 3_600_000;
const DAY = 86_400_000;
const all = { sensor: 'pump-1/de', from: null, to: null };

it('bins of a rollup add up, and a revision that empties one takes it away', () => {
  const store = openStore(dir);
  commit(store, balancedCounter(3));
  const bins = [{ bin: 'speed ..600', pulses: 4, ms: 30_000 }];
  const first = rollup(10, 60_000, { period: '1h', start: HOUR, bins });
  const [told] = commit(store, outputs({ rollups: [first] })).rollups;
  expect(told!.bins).toEqual([
    { bin: 'all', pulses: 6, ms: 30_000 },
    { bin: 'speed ..600', pulses: 4, ms: 30_000 },
  ]);
  const back = rollup(-4, -30_000, {
    ...{ period: '1h', start: HOUR, bins: [{ bin: 'speed ..600', pulses: -4, ms: -30_000 }] },
  });
  expect(commit(store, outputs({ rollups: [back] })).rollups[0]).toMatchObject({ revision: 1, bins: [] });
  store.close();
  const reader = openReader(dir);
  expect(readBinHours(reader, all)).toEqual([{ start: HOUR, bin: 'all', pulses: 6, ms: 30_000 }]);
  const query = { ...all, period: '1h', limit: 9, cursor: null } as const;
  expect(reader.rollups(query).items).toMatchObject([{ bins: [] }]);
  reader.close();
});

it('what a store held before there were bins is in the bin `all`', () => {
  const db = new Database(join(dir, 'tallypost.db'));
  migrate(db, dir, MIGRATIONS.slice(0, 2));
  db.exec(`INSERT INTO name VALUES (1, 'pump-1/de'); INSERT INTO chain VALUES (1, 1, 'SN', 1)`);
  db.exec(`INSERT INTO rollup_1h VALUES (1, ${HOUR}, 0, 0,0,0,0,0,7,3, 0,0,0,0,0,50000,9, 0)`);
  db.exec(`INSERT INTO spread VALUES (1, ${HOUR}, 7, 50000, 1,2,3,4, 5,6,7,8)`);
  migrate(db, dir);
  expect(db.prepare('SELECT text, ms, q3, k0 FROM spread JOIN name ON name.id = bin').raw().all()).toEqual([
    ['all', 50_000, 4, 5],
  ]);
  db.close();
  const reader = openReader(dir);
  expect(readBinHours(reader, all)).toEqual([{ start: HOUR, bin: 'all', pulses: 7, ms: 50_000 }]);
  const day = HOUR - (HOUR % DAY);
  expect(readDays(reader, { sensor: 'pump-1/de', from: day, to: day + DAY })).toEqual([
    { day, bin: 'all', pulses: 7, ms: 50_000 },
  ]);
  reader.close();
});

it('a period is summed to the hour, whatever of it is whole days, and follows revisions', () => {
  const store = openStore(dir);
  commit(store, balancedCounter(3));
  const first = HOUR - (HOUR % DAY) - 2 * DAY;
  const hours = Array.from({ length: 100 }, (_, i) => first + i * 3_600_000);
  const add = (start: number, pulses: number) => {
    const bins = [{ bin: start % 7_200_000 === 0 ? 'speed ..600' : 'speed 600..', pulses, ms: 1000 }];
    return rollup(pulses, 1000, { period: '1h', start, bins });
  };
  commit(store, outputs({ rollups: hours.map((start, i) => add(start, i)) }));
  commit(store, outputs({ rollups: [add(hours[30]!, 1000), add(hours[99]!, 5)] }));
  store.close();
  const reader = openReader(dir);
  const rows = readBinHours(reader, { ...all, from: first });
  for (const [a, b] of [
    [0, 100],
    [0, 24],
    [24, 72],
    [5, 20],
    [20, 30],
    [23, 49],
    [70, 99],
    [48, 48],
  ] as const) {
    const [from, to] = [first + a * 3_600_000, first + b * 3_600_000];
    const inside = rows.filter(({ start }) => start >= from && start < to);
    const sum = (bin: string, day: number | null) =>
      inside
        .filter((row) => row.bin === bin && (day === null || row.start - (row.start % DAY) === day))
        .reduce((total, row) => total + row.pulses, 0);
    const query = { sensor: 'pump-1/de', from, to };
    const { bins } = readSide(reader, query);
    expect(bins.map(({ bin, pulses }) => [bin, pulses])).toEqual(
      [...new Set(inside.map(({ bin }) => bin))].sort().map((bin) => [bin, sum(bin, null)]),
    );
    const days = readDays(reader, query);
    for (const { day, bin, pulses } of days) expect(pulses).toBe(sum(bin, day));
    const total = days.reduce((all, { pulses }) => all + pulses, 0);
    expect(total).toBe(inside.reduce((all, { pulses }) => all + pulses, 0));
  }
  reader.close();
});
