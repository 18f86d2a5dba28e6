/** Readers and backups beside a writing gateway: they hold nobody up, see one moment each, and continue by cursor. */
import { mkdtempSync, mkdirSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import { openState, step } from '../../src/core/step.js';
import { FILE_NAME } from '../../src/store/open.js';
import type { Page, PageQuery } from '../../src/store/page.js';
import { openReader } from '../../src/store/reader.js';
import { StoreError } from '../../src/store/store-error.js';
import { openStore } from '../../src/store/store.js';
import { commitBatch, factsOf, ledgersOf, planOf, withReader } from './store-rig.js';

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-beside-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

const plan = planOf(2);
const BATCH_FACTS = 400;
const WAL_BYTES_MAX = 16 * 1024 * 1024;
const EVERYTHING = { sensor: null, from: null, to: null } as const;

function batchesOf(facts: readonly Fact[]): Fact[][] {
  const batches: Fact[][] = [];
  for (let i = 0; i < facts.length; i += BATCH_FACTS) batches.push(facts.slice(i, i + BATCH_FACTS));
  return batches;
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;
}

describe('a reader beside the writer', () => {
  it('holds up no commit, and the WAL stays bounded, though it stays open and reads half an export', () => {
    const store = openStore(dir);
    const state = openState(plan, null);
    const [first, ...others] = batchesOf(factsOf(3, { motors: 2, minutes: 300 }));
    commitBatch(store, plan, state, first!);
    const reader = openReader(dir);
    const half = reader.increments(EVERYTHING);
    half.next();
    const commitMs: number[] = [];
    const timed = {
      ...store,
      commit: () => {
        const start = performance.now();
        store.commit();
        commitMs.push(performance.now() - start);
      },
    };
    let walBytes = 0;
    for (const batch of others) {
      commitBatch(timed, plan, state, batch);
      reader.rollups({ ...EVERYTHING, period: '1m', limit: 50, cursor: null });
      walBytes = Math.max(walBytes, store.stats().walBytes);
    }
    expect(others.length).toBeGreaterThan(20);
    expect(median(commitMs)).toBeLessThan(50);
    expect(walBytes).toBeLessThan(WAL_BYTES_MAX);
    expect(store.checkpointWal()).toBe(0);
    reader.close();
    store.close();
  });

  it('in the middle of a transaction it holds up neither the commit nor the folding of the WAL', () => {
    const store = openStore(dir);
    const state = openState(plan, null);
    const [first, second, third] = batchesOf(factsOf(4, { motors: 2, minutes: 60 }));
    commitBatch(store, plan, state, first!);
    const reader = openReader(dir);
    reader.db.exec('BEGIN');
    const before = reader.value('SELECT count(*) FROM increment');
    const start = performance.now();
    commitBatch(store, plan, state, second!);
    store.checkpointWal();
    commitBatch(store, plan, state, third!);
    expect(performance.now() - start).toBeLessThan(1000);
    expect(reader.value('SELECT count(*) FROM increment')).toBe(before);
    reader.db.exec('COMMIT');
    expect(reader.value('SELECT count(*) FROM increment')).toBeGreaterThan(before as number);
    expect(store.checkpointWal()).toBe(0);
    reader.close();
    store.close();
  });
});

describe('a backup', () => {
  it('made while batches are committed is consistent, and its ledger balances', async () => {
    const store = openStore(dir);
    const state = openState(plan, null);
    const batches = batchesOf(factsOf(6, { motors: 2, minutes: 300 }));
    const early = batches.splice(0, Math.floor(batches.length / 2));
    for (const batch of early) commitBatch(store, plan, state, batch);
    const path = join(dir, 'copy.db');
    let copied = false;
    const backup = store.backup(path).finally(() => (copied = true));
    let during = 0;
    for (const batch of batches) {
      commitBatch(store, plan, state, batch);
      if (!copied) during += 1;
      await new Promise((resolve) => setImmediate(resolve));
    }
    expect(await backup).toBeGreaterThan(4096);
    expect(during).toBeGreaterThan(0);
    store.close();
    const other = join(dir, 'other');
    mkdirSync(other);
    renameSync(path, join(other, FILE_NAME));
    const ledgers = ledgersOf(other);
    expect(ledgers).toHaveLength(4);
    expect(ledgers.flatMap((ledger) => ledger.faults)).toEqual([]);
    const again = openStore(other);
    expect(again.setAside).toBeNull();
    again.close();
  });
});

describe('cursors', () => {
  function journalEntry(i: number): JournalEntry {
    return {
      at: i,
      detectedAt: i,
      kind: 'alarm',
      subject: `pump-${i}`,
      from: 'normal',
      to: 'active',
      who: '',
      text: 'rate high',
      what: '',
      annunciated: false,
      configuration: 'a1b2c3',
      evidence: null,
    };
  }

  function fill(): void {
    const store = openStore(dir);
    commitBatch(store, plan, openState(plan, null), factsOf(9, { motors: 2, minutes: 240 }));
    store.begin();
    const out = step(plan, openState(plan, null), []);
    for (let i = 0; i < 30; i++) out.journal.push(journalEntry(i));
    store.apply(out);
    store.quarantine(
      Array.from({ length: 7 }, (_, i) => ({
        at: i,
        reason: 'not JSON',
        topic: `tallypost/${i}`,
        client: 'bench',
        size: 1,
        firstBytes: Buffer.from('x'),
      })),
    );
    store.commit();
    store.close();
  }

  function collect<T>(read: (query: PageQuery) => Page<T>, limit: number): T[] {
    const items: T[] = [];
    let cursor: string | null = null;
    do {
      const page: Page<T> = read({ from: null, to: null, limit, cursor });
      expect(page.items.length).toBeLessThanOrEqual(limit);
      items.push(...page.items);
      cursor = page.next;
    } while (cursor !== null);
    return items;
  }

  it('continue where a page ended: pages of any size together are the whole', () => {
    fill();
    withReader(dir, (reader) => {
      const lists: ((query: PageQuery) => Page<unknown>)[] = [
        (query) => reader.rollups({ ...query, sensor: null, period: '10s' }),
        (query) => reader.rollups({ ...query, sensor: null, period: '1m' }),
        (query) => reader.transients({ ...query, motor: null }),
        (query) => reader.journal(query),
        (query) => reader.quarantine(query),
      ];
      for (const read of lists) {
        const whole = collect(read, 1e6);
        expect(whole.length).toBeGreaterThan(0);
        for (const limit of [13, 100]) expect(collect(read, limit)).toEqual(whole);
      }
    });
  });

  it('that are not of this list are refused with a word on what to do', () => {
    fill();
    withReader(dir, (reader) => {
      const query = { from: null, to: null, limit: 3 };
      const foreign = reader.quarantine({ ...query, cursor: null }).next;
      expect(foreign).not.toBeNull();
      for (const cursor of [foreign!, 'nonsense', '', Buffer.from('{}').toString('base64url')]) {
        const ask = (): unknown => reader.rollups({ ...query, cursor, sensor: null, period: '1m' });
        expect(ask).toThrow(StoreError);
        expect(ask).toThrow(/cursor is not one of ours.*without a cursor/);
      }
    });
  });
});
