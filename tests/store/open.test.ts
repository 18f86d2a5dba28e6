/** Opening: durable settings, files that are not fit to be opened, one writer to a folder, migration with a copy first. */
import { existsSync, mkdtempSync, readdirSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openState } from '../../src/core/step.js';
import { migrate } from '../../src/store/migration.js';
import { FILE_NAME, openDatabase } from '../../src/store/open.js';
import { openReader } from '../../src/store/reader.js';
import { SCHEMA_VERSION } from '../../src/store/schema.js';
import { openStore } from '../../src/store/store.js';
import { startChild, type Child } from '../support/child.js';
import { commitBatch, factsOf, planOf, withFile } from './store-rig.js';

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-open-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

const plan = planOf(1);

function fillStore(): void {
  const store = openStore(dir);
  commitBatch(store, plan, openState(plan, null), factsOf(1));
  store.close();
}

describe('an opened store', () => {
  it('writes ahead and syncs every commit, the first time and every other', () => {
    for (let i = 0; i < 2; i++) {
      const opened = openDatabase(dir);
      const { db } = opened;
      expect(db.pragma('journal_mode', { simple: true })).toBe('wal');
      expect(db.pragma('synchronous', { simple: true })).toBe(2);
      expect(db.pragma('auto_vacuum', { simple: true })).toBe(2);
      expect(db.pragma('user_version', { simple: true })).toBe(SCHEMA_VERSION);
      expect(opened.setAside).toBeNull();
      opened.close();
    }
  });

  it('refuses the schema of a newer program, naming both versions, and leaves the file alone', () => {
    fillStore();
    const newer = SCHEMA_VERSION + 7;
    withFile(dir, (db) => db.pragma(`user_version = ${newer}`));
    const message = new RegExp(`schema ${newer}.*up to ${SCHEMA_VERSION}`);
    expect(() => openStore(dir)).toThrow(message);
    expect(() => openReader(dir)).toThrow(new RegExp(`schema ${newer}.*schema ${SCHEMA_VERSION}`));
    expect(withFile(dir, (db) => db.pragma('user_version', { simple: true }))).toBe(newer);
    withFile(dir, (db) => db.pragma(`user_version = ${SCHEMA_VERSION}`));
    openStore(dir).close();
  });

  it('refuses the database of another program', () => {
    withFile(dir, (db) => db.exec('CREATE TABLE recipe (name TEXT)'));
    expect(() => openStore(dir)).toThrow(expect.objectContaining({ code: 'not-ours' }) as Error);
    expect(withFile(dir, (db) => db.prepare('SELECT count(*) FROM recipe').pluck().get())).toBe(0);
  });
});

describe('a corrupt file', () => {
  const harms: Record<string, (file: string) => void> = {
    garbage: (file) => writeFileSync(file, Buffer.alloc(30_000, 'not a database ')),
    'cut off': (file) => truncateSync(file, Math.floor(statSync(file).size / 2 / 4096) * 4096),
    'cut off inside a page': (file) => truncateSync(file, Math.floor(statSync(file).size / 3) + 100),
  };

  it.each(Object.keys(harms))('is set aside, reported, and a new one begun: %s', (name) => {
    fillStore();
    const file = join(dir, FILE_NAME);
    harms[name]!(file);
    const harmedBytes = statSync(file).size;
    const store = openStore(dir);
    expect(store.setAside).toMatch(/\.corrupt$/);
    expect(statSync(store.setAside!).size).toBe(harmedBytes);
    commitBatch(store, plan, openState(plan, null), factsOf(2));
    store.close();
    const again = openStore(dir);
    expect(again.setAside).toBeNull();
    again.close();
    expect(readdirSync(dir).filter((entry) => entry.endsWith('.corrupt'))).toHaveLength(1);
  });
});

describe('a folder', () => {
  it('has one writer at a time', () => {
    const store = openStore(dir);
    expect(() => openStore(dir)).toThrow(
      expect.objectContaining({ code: 'in-use', retryable: true }) as Error,
    );
    store.close();
    openStore(dir).close();
  });

  it('is refused across processes, and free again when the first is killed', async () => {
    const holder = startChild(process.execPath, [
      '--input-type=module',
      '-e',
      HOLD,
      join(dir, 'writer.lock'),
    ]);
    try {
      await waitFor(holder, 'held');
      expect(() => openStore(dir)).toThrow(expect.objectContaining({ code: 'in-use' }) as Error);
    } finally {
      holder.process.kill('SIGKILL');
      await holder.ended;
    }
    openStore(dir).close();
  });

  it('is held against other processes while a store is open', async () => {
    const store = openStore(dir);
    const second = startChild(process.execPath, [
      '--input-type=module',
      '-e',
      HOLD,
      join(dir, 'writer.lock'),
    ]);
    expect((await second.ended).code).not.toBe(0);
    expect(second.said()).toContain('locked');
    store.close();
  });
});

/** Takes the lock of a folder as a gateway does, says so, and stays until it is killed. */
const HOLD = `import Database from 'better-sqlite3';
const lock = new Database(process.argv[1]);
lock.pragma('busy_timeout = 0');
lock.exec('BEGIN EXCLUSIVE');
console.log('held');
setInterval(() => lock.inTransaction, 1000);`;

async function waitFor(child: Child, text: string): Promise<void> {
  while (!child.said().includes(text)) {
    if (!child.isAlive()) throw new Error(`it ended early: ${child.said()}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

describe('migration', () => {
  const FIRST = ['CREATE TABLE pump (name TEXT NOT NULL) STRICT'];
  const SECOND = ['ALTER TABLE pump ADD COLUMN zone TEXT', `UPDATE pump SET zone = 'hall'`];

  function openOld(): Database.Database {
    const db = new Database(join(dir, FILE_NAME));
    migrate(db, dir, [FIRST]);
    db.exec(`INSERT INTO pump VALUES ('pump-1')`);
    return db;
  }

  it('makes a copy of the older schema before it changes anything', () => {
    const db = openOld();
    expect(readdirSync(dir)).toEqual([FILE_NAME]);
    migrate(db, dir, [FIRST, SECOND]);
    expect(db.pragma('user_version', { simple: true })).toBe(2);
    expect(db.prepare('SELECT name, zone FROM pump').raw().all()).toEqual([['pump-1', 'hall']]);
    db.close();
    const copy = new Database(join(dir, 'tallypost-before-v2.db'), { readonly: true });
    expect(copy.pragma('user_version', { simple: true })).toBe(1);
    expect(copy.prepare('SELECT * FROM pump').raw().all()).toEqual([['pump-1']]);
    copy.close();
  });

  it('leaves the older schema whole when a step fails, and succeeds when it is tried again', () => {
    const db = openOld();
    expect(() => migrate(db, dir, [FIRST, [...SECOND, 'NOT A STATEMENT']])).toThrow(/syntax error/);
    expect(db.pragma('user_version', { simple: true })).toBe(1);
    expect(db.prepare('SELECT * FROM pump').raw().all()).toEqual([['pump-1']]);
    migrate(db, dir, [FIRST, SECOND]);
    expect(db.pragma('user_version', { simple: true })).toBe(2);
    db.close();
  });

  it('keeps no copy of an empty file, and does nothing to a current one', () => {
    openStore(dir).close();
    openStore(dir).close();
    expect(existsSync(join(dir, `tallypost-before-v${SCHEMA_VERSION}.db`))).toBe(false);
  });

  it('refuses a version that it does not know', () => {
    const db = openOld();
    db.pragma('user_version = 9');
    expect(() => migrate(db, dir, [FIRST, SECOND])).toThrow(/schema 9.*up to 2/);
    db.close();
  });
});
