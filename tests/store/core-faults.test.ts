/**
 * The disk fails at any one statement of a batch: nothing of the batch is kept, everything before it is, and the same
 * batch commits afterwards as if nothing had happened.
 */
import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import type { Need } from '../../src/core/needs.js';
import { openState } from '../../src/core/step.js';
import { StoreError } from '../../src/store/store-error.js';
import { openStore } from '../../src/store/store.js';
import { commitBatch, dumpTables, factsOf, ledgersOf, planOf, restoreState, withFile } from './store-rig.js';

let root: string;
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'tallypost-faults-'));
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const plan = planOf(2);

/** What SQLite throws when the disk is full. */
function diskFull(): Error {
  return Object.assign(new Error('database or disk is full'), { code: 'SQLITE_FULL' });
}

/** A store that holds the first batch, and the second, which new names, late readings and questions make varied. */
function prepareStore(): { dir: string; batch: Fact[] } {
  const known = factsOf(7, { motors: 1, minutes: 400 });
  const late = known.filter((fact, i) => fact.kind === 'reading' && i % 1733 === 0);
  const before = known.filter((fact) => !late.includes(fact));
  const other = factsOf(8, { motors: 2, minutes: 3 }).filter(
    (fact) => (fact.kind === 'reading' && fact.sensor.startsWith('pump-2')) || fact.kind === 'drive',
  );
  const dir = join(root, 'before');
  const store = openStore(dir);
  commitBatch(store, plan, openState(plan, null), before);
  store.close();
  const end = before.reduce((last, fact) => (fact.kind === 'tick' ? Math.max(last, fact.now) : last), 0);
  return { dir, batch: [...late, ...other, { kind: 'tick', now: end + 1000 }] };
}

/** Statements that opening and restoring take, how many the batch takes after them, and questions that it asks. */
function countStatements(
  dir: string,
  batch: readonly Fact[],
): { opening: number; batch: number; answers: number } {
  const copy = join(root, 'count');
  cpSync(dir, copy, { recursive: true });
  let total = 0;
  const store = openStore(copy, { onStatement: (n) => (total = n) });
  const state = restoreState(store, plan);
  const opening = total;
  let answers = 0;
  const counting = {
    ...store,
    answer: (need: Need) => {
      answers += 1;
      return store.answer(need);
    },
  };
  commitBatch(counting, plan, state, batch);
  store.close();
  return { opening, batch: total - opening, answers };
}

describe('a failing disk', () => {
  it('takes back the whole batch at whichever statement it fails, and the batch commits when sent again', () => {
    const { dir, batch } = prepareStore();
    const before = dumpTables(dir);
    const numbers = countStatements(dir, batch);
    const after = dumpTables(join(root, 'count'));
    expect(after).not.toBe(before);
    expect(numbers.batch).toBeGreaterThan(100);
    expect(numbers.answers).toBeGreaterThan(0);
    const failing = join(root, 'failing');
    cpSync(dir, failing, { recursive: true });
    let contents = '';
    for (let n = 1; n <= numbers.batch; n++) {
      const store = openStore(failing, {
        onStatement: (number) => {
          if (number === numbers.opening + n) throw diskFull();
        },
      });
      const state = restoreState(store, plan);
      expect(() => commitBatch(store, plan, state, batch), `statement ${n}`).toThrow(/disk is full/);
      store.close();
      contents = dumpTables(failing);
      expect(contents === before, `statement ${n} left something behind`).toBe(true);
    }
    expect(withFile(failing, (db) => db.pragma('integrity_check', { simple: true }))).toBe('ok');
    expect(ledgersOf(failing).flatMap((ledger) => ledger.faults)).toEqual([]);
    const store = openStore(failing);
    commitBatch(store, plan, restoreState(store, plan), batch);
    store.close();
    expect(dumpTables(failing) === after).toBe(true);
    expect(ledgersOf(failing).flatMap((ledger) => ledger.faults)).toEqual([]);
    expect(withFile(failing, (db) => db.pragma('integrity_check', { simple: true }))).toBe('ok');
  });

  it('goes on without being opened anew: the names and parts of the batch are forgotten with it', () => {
    const { dir, batch } = prepareStore();
    const numbers = countStatements(dir, batch);
    const after = dumpTables(join(root, 'count'));
    let failAt = Infinity;
    let number = 0;
    const store = openStore(dir, {
      onStatement: (n) => {
        number = n;
        if (n === failAt) throw diskFull();
      },
    });
    for (let n = 1; n <= numbers.batch; n += 5) {
      const state = restoreState(store, plan);
      failAt = number + n;
      expect(() => commitBatch(store, plan, state, batch), `statement ${n}`).toThrow(StoreError);
    }
    failAt = Infinity;
    commitBatch(store, plan, restoreState(store, plan), batch);
    store.close();
    expect(dumpTables(dir) === after).toBe(true);
  });

  it('says what failed and that the same call may succeed later', () => {
    const store = openStore(join(root, 'said'), {
      onStatement: () => {
        throw diskFull();
      },
    });
    let caught: unknown = null;
    try {
      store.begin();
    } catch (error) {
      caught = error;
    }
    store.rollback();
    store.close();
    expect(caught).toBeInstanceOf(StoreError);
    expect(caught).toMatchObject({ code: 'disk-full', retryable: true });
    expect(String(caught)).toContain('free space on the disk');
  });

  it('tells of every statement: opening, writing, asking and committing', () => {
    const { dir, batch } = prepareStore();
    const seen: number[] = [];
    const store = openStore(dir, { onStatement: (n) => void seen.push(n) });
    const statementsOf = (work: () => void): number => {
      const before = seen.length;
      work();
      return seen.length - before;
    };
    expect(statementsOf(() => void restoreState(store, plan))).toBeGreaterThan(0);
    expect(statementsOf(() => store.begin())).toBe(1);
    expect(statementsOf(() => store.setMeta('cause', 'test'))).toBe(1);
    expect(statementsOf(() => expect(store.getMeta('cause')).toBe('test'))).toBe(1);
    const zone = { zone: 'hall', from: 0, to: 1 };
    const need: Need = {
      id: 1,
      increments: null,
      neighbours: null,
      drives: null,
      zone,
      segments: null,
      transients: null,
    };
    expect(statementsOf(() => void store.answer(need))).toBe(2);
    store.rollback();
    expect(statementsOf(() => commitBatch(store, plan, restoreState(store, plan), batch))).toBeGreaterThan(
      30,
    );
    store.close();
    expect(seen).toEqual(seen.map((_, i) => i + 1));
  });
});
