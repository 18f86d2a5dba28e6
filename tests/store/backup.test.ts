/** A backup is one whole file, made while batches are committed. */
import { existsSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openStore, type Store } from '../../src/store/store.js';
import { balancedCounter, commit, makeFolder } from './sample-rows.js';

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

describe('a backup', () => {
  it('made while batches are committed holds whole batches, and opens alone', async () => {
    for (let chain = 1; chain <= 10; chain++)
      commit(store, balancedCounter(8000, { sensor: `pump-${chain}/de`, chain }));
    const file = join(folder.dir, 'copy.db');
    let isDone = false;
    const tells: number[] = [];
    const copied = store.backup(file, (left) => tells.push(left)).finally(() => (isDone = true));
    let batches = 0;
    while (!isDone) {
      batches += 1;
      const chain = 100 + batches;
      commit(store, balancedCounter(50, { sensor: `fan-${batches}/de`, chain }));
      await new Promise((resolve) => setImmediate(resolve));
    }
    const bytes = await copied;
    expect(batches).toBeGreaterThan(2);
    expect(tells.length).toBeGreaterThan(2);
    expect(bytes).toBeGreaterThan(2_000_000);
    const copy = new Database(file, { readonly: true });
    expect(copy.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(copy.pragma('journal_mode', { simple: true })).toBe('delete');
    const perSensor = copy.prepare('SELECT sensor, count(*) FROM increment GROUP BY sensor').raw().all() as [
      number,
      number,
    ][];
    expect(perSensor.length).toBeGreaterThanOrEqual(10);
    for (const [, rows] of perSensor) expect([50, 8000]).toContain(rows);
    copy.close();
    expect(readdirSync(folder.dir).filter((name) => name.includes('.part'))).toEqual([]);
  });

  it('never overwrites a file', async () => {
    const file = join(folder.dir, 'copy.db');
    writeFileSync(file, 'mine');
    await expect(store.backup(file)).rejects.toMatchObject({ code: 'exists' });
  });

  it('into a folder that is not there is told, and leaves nothing behind', async () => {
    const file = join(folder.dir, 'nowhere', 'copy.db');
    await expect(store.backup(file)).rejects.toThrow();
    expect(existsSync(file)).toBe(false);
    commit(store, balancedCounter(3));
  });

  it('is a store that another gateway can start from', async () => {
    commit(store, balancedCounter(100));
    const other = makeFolder();
    await store.backup(join(other.dir, 'tallypost.db'));
    const copy = openStore(other.dir);
    expect(copy.setAside).toBeNull();
    commit(copy, balancedCounter(10, { sensor: 'pump-2/de', chain: 2 }));
    copy.close();
    other.remove();
  });
});
