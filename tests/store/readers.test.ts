/** Readers beside a writer: they hold nothing up, they see whole batches, and the log stays bounded. */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openReader } from '../../src/store/reader.js';
import { readArrivals } from '../../src/store/read-wiring.js';
import { StoreError } from '../../src/store/store-error.js';
import { openStore, type Store } from '../../src/store/store.js';
import { balancedCounter, commit, increment, makeFolder, outputs, START } from './sample-rows.js';

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

const MB = 1024 * 1024;
const walBytes = (): number => statSync(join(folder.dir, 'tallypost.db-wal')).size;

function writeMuch(batches: number, from = 0): void {
  for (let batch = 0; batch < batches; batch++) {
    const increments = Array.from({ length: 1000 }, (_, i) => {
      const seq = from + batch * 1000 + i;
      return increment({ seq, to: START + seq * 10, sensor: `pump-${i % 50}/de`, chain: 1 + (i % 50) });
    });
    commit(store, outputs({ increments }));
  }
}

describe('a reader', () => {
  it('sees a batch when it is committed, and not before', () => {
    commit(store, balancedCounter(5));
    const reader = openReader(folder.dir);
    const count = () => [...reader.increments({ sensor: null, from: null, to: null })].flat().length;
    store.begin();
    store.apply(balancedCounter(10, { sensor: 'pump-2/de', chain: 2 }));
    expect(count()).toBe(5);
    store.commit();
    expect(count()).toBe(15);
    reader.close();
  });

  it('that pauses between two pages holds up neither commits nor the emptying of the log', () => {
    commit(store, balancedCounter(5000));
    const reader = openReader(folder.dir);
    const pages = reader.increments({ sensor: null, from: null, to: null });
    pages.next();
    writeMuch(30);
    expect(store.checkpointWal()).toBe(0);
    expect(pages.next().value).toHaveLength(2000);
    reader.close();
  });

  it('the log stays bounded beside an open reader', () => {
    const reader = openReader(folder.dir);
    let most = 0;
    for (let i = 0; i < 20; i++) {
      writeMuch(5, i * 5000);
      reader.rollups({ sensor: null, period: '1m', from: null, to: null, limit: 10, cursor: null });
      most = Math.max(most, walBytes());
    }
    expect(most).toBeLessThan(17 * MB);
    reader.close();
  });

  it('that is stuck in a query delays nobody: the log grows meanwhile, and is folded back afterwards', () => {
    writeMuch(1);
    const stuck = new Database(join(folder.dir, 'tallypost.db'), { readonly: true });
    const open = stuck.prepare('SELECT * FROM increment').iterate();
    open.next();
    writeMuch(20, 1000);
    const startedAt = performance.now();
    expect(store.checkpointWal()).toBeGreaterThan(0);
    expect(performance.now() - startedAt).toBeLessThan(1000);
    open.return?.();
    stuck.close();
    expect(store.checkpointWal()).toBe(0);
  });

  it('cannot write', () => {
    const reader = openReader(folder.dir);
    expect(() => reader.db.exec('DELETE FROM increment')).toThrow(/readonly/);
    reader.close();
  });

  it('refuses a cursor that is not ours', () => {
    const reader = openReader(folder.dir);
    const ask = (cursor: string) => () =>
      reader.rollups({ sensor: null, period: '1m', from: null, to: null, limit: 10, cursor });
    for (const cursor of ['x', '', Buffer.from('[1,2]').toString('base64url')])
      expect(ask(cursor)).toThrow(StoreError);
    reader.close();
  });

  it('journal, transients and quarantine come in pages without loss', () => {
    const journal = Array.from({ length: 25 }, (_, i) => ({
      ...{ at: START + i, detectedAt: START, kind: 'notice' as const, subject: `s-${i}`, from: '', to: '' },
      ...{ who: '', text: '', what: '' as const, annunciated: false, configuration: '', evidence: null },
    }));
    const transients = Array.from({ length: 25 }, (_, i) => ({
      ...{ motor: `pump-${i % 3}`, from: START + i * 100, to: START + i * 100 + 50, edges: 1 },
      ...{ kind: 'start' as const, counts: [] },
    }));
    commit(store, outputs({ journal, transients }));
    const reader = openReader(folder.dir);
    const gather = <T>(ask: (cursor: string | null) => { items: readonly T[]; next: string | null }): T[] => {
      const items: T[] = [];
      let cursor: string | null = null;
      do {
        const page = ask(cursor);
        items.push(...page.items);
        cursor = page.next;
      } while (cursor !== null);
      return items;
    };
    const range = { from: START, to: null, limit: 4 };
    expect(gather((cursor) => reader.journal({ ...range, cursor }))).toEqual(journal);
    const newest = gather((cursor) => reader.journal({ ...range, order: 'newest', cursor }));
    expect(newest).toEqual(journal.toReversed());
    const found = gather((cursor) => reader.transients({ ...range, motor: null, cursor }));
    expect(found).toHaveLength(25);
    expect(new Set(found.map((t) => t.from)).size).toBe(25);
    expect(gather((cursor) => reader.transients({ ...range, motor: 'pump-1', cursor }))).toHaveLength(8);
    reader.close();
  });
});

it("says of a sensor's clock what the core holds of it, and nothing where that holds nothing", () => {
  const sensors = ['pump-1/de', 'pump-1/nde', 'pump-2/de'];
  const increments = sensors.map((sensor, i) => increment({ sensor, chain: i + 1 }));
  const hours = (sensor: string, off: boolean) => ({
    ...{ key: `hours:${sensor}`, version: 2, json: JSON.stringify({ clock: { off } }) },
  });
  const checkpoints = [hours('pump-1/de', true), hours('pump-1/nde', false)];
  commit(store, outputs({ increments, checkpoints }));
  const reader = openReader(folder.dir);
  const found = readArrivals(reader, { sensors, since: START, reasonsSince: START });
  expect(found.map(({ isClockOff }) => isClockOff)).toEqual([true, false, null]);
  reader.close();
});
