/**
 * The n-th statement of a batch fails, for every n: nothing of the batch is there then, everything before it is, and the
 * next batch goes through.
 */
import Database from 'better-sqlite3';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Outputs } from '../../src/core/rows.js';
import { proveLedger } from '../../src/store/ledger.js';
import { openReader } from '../../src/store/reader.js';
import { openStore, type Store } from '../../src/store/store.js';
import { toStoreError, StoreError } from '../../src/store/store-error.js';
import { alarm, balancedCounter, commit, makeFolder, need, rollup, START } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
beforeEach(() => {
  folder = makeFolder();
});
afterEach(() => folder.remove());

/** Something of everything. */
function secondBatch(): Outputs {
  const out = balancedCounter(40, { sensor: 'pump-2/de', chain: 2 });
  out.rollups.push(rollup(9, 9, { start: START }));
  out.windowsRevised.push({ sensor: 'pump-1/de', start: START });
  const range = { from: START, to: START + 9 };
  out.transients.push({ motor: 'pump-1', ...range, edges: 1, kind: 'start', counts: [] });
  out.bursts.push({ zone: 'hall', motor: 'pump-1', sensor: 'pump-1/de', window: START, ...range });
  out.votes.push({ zone: 'hall', motor: 'pump-1', sensor: 'pump-1/de', ...range });
  out.presences.push({ motor: 'pump-1', at: START, online: true });
  out.alarms.push(alarm());
  const entry = { motor: 'pump-1', at: START, enteredAt: START, by: 'J', note: '', withdrawn: null };
  out.actions.push({ ...entry, id: 1, action: 'regreased', end: 'de', bearing: null, breaks: 'motor' });
  out.findings.push({ ...entry, id: 2, end: 'de', removed: true, modes: [], signs: ['none'], lubricant: [] });
  out.diagnostics.push({ subject: 'pump-1/de', kind: 'duplicate', at: START, detail: '' });
  out.checkpoints.push({ key: 'core', version: 1, json: '{}' });
  return out;
}

function run(store: Store): void {
  store.begin();
  try {
    store.apply(secondBatch());
    store.answer(need({ increments: { sensor: 'pump-2/de', fromTo: 0, toTo: 9e15 } }));
    store.quarantine([
      { at: START, reason: 'r', topic: 't', client: 'c', size: 1, firstBytes: new Uint8Array(1) },
    ]);
    store.commit();
  } catch (error) {
    store.rollback();
    throw error;
  }
}

/** Every row of every table, as text. */
function dump(): string {
  const db = new Database(join(folder.dir, 'tallypost.db'), { readonly: true });
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
  const tables = db
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
    .pluck()
    .all() as string[];
  const text = tables
    .map((t) => `${t}: ${JSON.stringify(db.prepare(`SELECT * FROM ${t}`).all())}`)
    .join('\n');
  db.close();
  return text;
}

describe('when the n-th statement fails', () => {
  it('the batch is all or nothing, for every n, and goes through when it is sent again', () => {
    const first = openStore(folder.dir);
    commit(first, balancedCounter(100));
    first.close();
    const before = dump();
    let failAt = Infinity;
    let seen = 0;
    let statements = 0;
    const store = openStore(folder.dir, {
      onStatement: () => {
        seen += 1;
        if (seen === failAt) throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR_WRITE' });
      },
    });
    for (failAt = 1; ; failAt++) {
      seen = 0;
      try {
        run(store);
        statements = seen;
        break;
      } catch (error) {
        expect(error).toBeInstanceOf(StoreError);
        expect(error).toMatchObject({ code: 'disk-failed', retryable: true });
      }
      if (failAt % 5 === 0) expect(dump()).toBe(before);
    }
    store.close();
    expect(statements).toBeGreaterThan(25);
    expect(failAt).toBe(statements + 1);
    const after = dump();
    expect(after).not.toBe(before);
    const reader = openReader(folder.dir);
    expect(proveLedger(reader, { sensor: null, from: null, to: null }).map((l) => l.balanced)).toEqual([
      true,
      true,
    ]);
    reader.close();
    folder.remove();
    folder = makeFolder();
    const clean = openStore(folder.dir);
    commit(clean, balancedCounter(100));
    run(clean);
    clean.close();
    expect(dump()).toBe(after);
  });

  it('a process that ends without rolling back leaves nothing of the batch', () => {
    const store = openStore(folder.dir);
    commit(store, balancedCounter(100));
    const before = dump();
    store.begin();
    store.apply(secondBatch());
    store.close();
    openStore(folder.dir).close();
    expect(dump()).toBe(before);
  });

  it('rolling back is never an error, and may be done twice', () => {
    const store = openStore(folder.dir);
    store.rollback();
    store.begin();
    store.apply(secondBatch());
    store.rollback();
    store.rollback();
    run(store);
    store.close();
  });
});

describe('what failed is told in one shape', () => {
  const of = (code: string) => toStoreError(Object.assign(new Error('m'), { code }));

  it.each([
    ['SQLITE_FULL', 'disk-full', true],
    ['ENOSPC', 'disk-full', true],
    ['SQLITE_IOERR_FSYNC', 'disk-failed', true],
    ['SQLITE_CORRUPT_VTAB', 'corrupt', false],
    ['SQLITE_NOTADB', 'corrupt', false],
    ['SQLITE_READONLY', 'read-only', true],
    ['SQLITE_BUSY_SNAPSHOT', 'busy', true],
    ['SQLITE_CONSTRAINT_PRIMARYKEY', 'failed', false],
    ['SQLITE_ERROR', 'failed', true],
  ])('%s is %s', (code, expected, retryable) => {
    expect(of(code)).toBeInstanceOf(StoreError);
    expect(of(code)).toMatchObject({ code: expected, retryable });
    expect((of(code) as StoreError).hint).not.toBe('');
  });

  it('a mistake of ours stays what it is', () => {
    const mistake = new TypeError('x is not a function');
    expect(toStoreError(mistake)).toBe(mistake);
  });

  it('a database that may not grow any more is a full disk', () => {
    const db = new Database(':memory:');
    db.pragma('max_page_count = 2');
    let told: unknown;
    try {
      db.exec('CREATE TABLE t (a); INSERT INTO t VALUES (zeroblob(100000))');
    } catch (error) {
      told = toStoreError(error);
    }
    expect(told).toMatchObject({ code: 'disk-full' });
    db.close();
  });
});
