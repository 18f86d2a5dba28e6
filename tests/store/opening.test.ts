/** Opening: durable settings, one writer, older and newer schemas, damaged files. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  closeSync,
  existsSync,
  openSync,
  readdirSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { migrate } from '../../src/store/migration.js';
import { openDatabase } from '../../src/store/open.js';
import { openReader } from '../../src/store/reader.js';
import { MIGRATIONS, SCHEMA_VERSION } from '../../src/store/schema.js';
import { StoreError } from '../../src/store/store-error.js';
import { openStore } from '../../src/store/store.js';
import { balancedCounter, commit, makeFolder } from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
beforeEach(() => {
  folder = makeFolder();
});
afterEach(() => folder.remove());

const path = (name = 'tallypost.db'): string => join(folder.dir, name);

function failure(work: () => unknown): StoreError {
  try {
    work();
  } catch (error) {
    if (error instanceof StoreError) return error;
    throw error;
  }
  throw new Error('it did not fail');
}

describe('a new database', () => {
  it('syncs every commit, can give space back, and types its columns', () => {
    const opened = openDatabase(folder.dir);
    const { db } = opened;
    expect(opened.setAside).toBeNull();
    const pragma = (name: string): unknown => db.pragma(name, { simple: true });
    expect([pragma('journal_mode'), pragma('synchronous')]).toEqual(['wal', 2]);
    expect([pragma('auto_vacuum'), pragma('user_version')]).toEqual([2, SCHEMA_VERSION]);
    const tables = db
      .prepare("SELECT name, strict FROM pragma_table_list WHERE type = 'table' AND schema = 'main'")
      .all() as { name: string; strict: number }[];
    expect(tables.filter((t) => t.strict === 0 && !t.name.startsWith('sqlite_'))).toEqual([]);
    expect(tables.length).toBeGreaterThan(15);
    opened.close();
  });

  it('an existing one keeps these settings', () => {
    openStore(folder.dir).close();
    const opened = openDatabase(folder.dir);
    expect(opened.db.pragma('synchronous', { simple: true })).toBe(2);
    opened.close();
  });
});

describe('one writer', () => {
  it('a second one is refused with a word on what to do, readers are not', () => {
    const store = openStore(folder.dir);
    const error = failure(() => openStore(folder.dir));
    expect(error.code).toBe('in-use');
    expect(error.message).toContain(folder.dir);
    expect(error.hint).toContain('--data');
    openReader(folder.dir).close();
    store.close();
    openStore(folder.dir).close();
  });

  it('one in another process holds the folder, until it is killed', async () => {
    const program = `
      const Database = require(${JSON.stringify(createRequire(import.meta.url).resolve('better-sqlite3'))});
      const lock = new Database(${JSON.stringify(path('writer.lock'))});
      lock.exec('BEGIN EXCLUSIVE');
      console.log('held');
      setInterval(() => lock.inTransaction, 1000);`;
    const child = spawn(process.execPath, ['-e', program], { stdio: ['ignore', 'pipe', 'inherit'] });
    await once(child.stdout, 'data');
    expect(failure(() => openStore(folder.dir)).code).toBe('in-use');
    child.kill('SIGKILL');
    await once(child, 'exit');
    openStore(folder.dir).close();
  });
});

describe('schemas', () => {
  it('a newer one is refused by writer and reader, and both versions are named', () => {
    openStore(folder.dir).close();
    const db = new Database(path());
    db.pragma('user_version = 77');
    db.close();
    for (const open of [openStore, openReader]) {
      const error = failure(() => open(folder.dir));
      expect(error.code).toBe('newer-schema');
      expect(error.message).toContain('77');
      expect(error.message).toContain(String(SCHEMA_VERSION));
    }
    expect(readdirSync(folder.dir).filter((name) => name.includes('corrupt'))).toEqual([]);
  });

  it('a migration copies the database as it was, then goes step by step', () => {
    const store = openStore(folder.dir);
    commit(store, balancedCounter(100));
    store.close();
    const next = SCHEMA_VERSION + 1;
    const steps = [
      ...MIGRATIONS,
      ['ALTER TABLE quarantine ADD COLUMN extra INTEGER'],
      ['CREATE TABLE more (id)'],
    ];
    const db = new Database(path());
    migrate(db, folder.dir, steps);
    expect(db.pragma('user_version', { simple: true })).toBe(next + 1);
    db.prepare('SELECT extra FROM quarantine').all();
    db.close();
    const copy = new Database(path(`tallypost-before-v${next + 1}.db`), { readonly: true });
    expect(copy.pragma('user_version', { simple: true })).toBe(SCHEMA_VERSION);
    expect(copy.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(copy.prepare('SELECT count(*) FROM increment').pluck().get()).toBe(100);
    copy.close();
  });

  it('a step that fails leaves the version before it, whole, and the copy beside it', () => {
    const store = openStore(folder.dir);
    commit(store, balancedCounter(10));
    store.close();
    const db = new Database(path());
    const steps = [...MIGRATIONS, ['CREATE TABLE more (id)', 'CREATE TABLE more (id)']];
    expect(() => migrate(db, folder.dir, steps)).toThrow(/already exists/);
    expect(db.pragma('user_version', { simple: true })).toBe(SCHEMA_VERSION);
    expect(() => db.prepare('SELECT * FROM more')).toThrow(/no such table/);
    db.close();
    expect(existsSync(path(`tallypost-before-v${SCHEMA_VERSION + 1}.db`))).toBe(true);
    openStore(folder.dir).close();
  });

  it('the database of another program is left alone', () => {
    const db = new Database(path());
    db.exec('CREATE TABLE letters (text)');
    db.close();
    expect(failure(() => openStore(folder.dir)).code).toBe('not-ours');
    expect(existsSync(path())).toBe(true);
  });
});

describe('damaged files', () => {
  const aside = (): string[] => readdirSync(folder.dir).filter((name) => name.endsWith('.corrupt'));

  it('what is no database is set aside, and a new one begun', () => {
    writeFileSync(path(), 'This was a database once, and now it is a letter. '.repeat(200));
    const store = openStore(folder.dir);
    expect(aside()).toHaveLength(1);
    expect(store.setAside).toBe(path(aside()[0]));
    commit(store, balancedCounter(5));
    store.close();
    expect(openStore(folder.dir).close()).toBeUndefined();
  });

  it('pages overwritten in the middle are noticed', () => {
    const store = openStore(folder.dir);
    commit(store, balancedCounter(5000));
    store.close();
    const file = openSync(path(), 'r+');
    const size = statSync(path()).size;
    writeSync(file, Buffer.alloc(8192, 0xaa), 0, 8192, Math.floor(size / 8192) * 4096);
    closeSync(file);
    const again = openStore(folder.dir);
    expect(again.setAside).not.toBeNull();
    expect(again.stats().databaseBytes).toBeLessThan(size);
    again.close();
    expect(aside()).toHaveLength(1);
  });

  it('a file cut short is noticed', () => {
    const store = openStore(folder.dir);
    commit(store, balancedCounter(5000));
    store.close();
    truncateSync(path(), Math.floor(statSync(path()).size / 2 / 4096) * 4096);
    const again = openStore(folder.dir);
    expect(again.setAside).not.toBeNull();
    again.close();
  });

  it('a reader is told', () => {
    writeFileSync(path(), 'nothing but text here, page after page. '.repeat(500));
    expect(failure(() => openReader(folder.dir)).code).toBe('corrupt');
    expect(failure(() => openReader(join(folder.dir, 'nowhere'))).code).toBe('missing');
  });
});
