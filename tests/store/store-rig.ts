/** What the tests of the store share: a plan and its facts, batches as the engine commits them, and what a file holds. */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import type { Fact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import { openState, RESTORE_REACH_MS, step } from '../../src/core/step.js';
import { FILE_NAME } from '../../src/store/open.js';
import { proveLedger, type SensorLedger } from '../../src/store/ledger.js';
import { openReader, type ReadStore } from '../../src/store/reader.js';
import type { Store } from '../../src/store/store.js';
import { makeLittlePlant, withTicks, type Wishes } from '../support/little-plant.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

export type State = ReturnType<typeof openState>;

/** A plan of `motors` pumps with two sensors each, as the little plant names them. */
export function planOf(motors: number): Plan {
  const pumps = Array.from({ length: motors }, (_, i) => motorPlan(`pump-${i + 1}`));
  const sensors = pumps.flatMap((pump) =>
    ['de', 'nde'].map((position) => sensorPlan(pump.key, position, { counterBits: 32 })),
  );
  return makePlan(pumps, sensors);
}

/** Facts of a little plant with a tick each second, in order of arrival. */
export function factsOf(seed: number, change: Partial<Wishes> = {}): Fact[] {
  const wishes: Wishes = {
    motors: 1,
    minutes: 30,
    reboots: true,
    bursts: false,
    torn: true,
    boots: true,
    seqs: true,
    rate: 8,
    bits: 32,
    ...change,
  };
  return withTicks(makeLittlePlant(seed, wishes).facts, 1000, 60_000);
}

export function restoreState(store: Store, plan: Plan): State {
  return openState(plan, store.restore(plan, RESTORE_REACH_MS));
}

/** One batch, as the engine commits it; where it fails it is rolled back, and the failure goes on. */
export function commitBatch(store: Store, plan: Plan, state: State, facts: readonly Fact[]): void {
  try {
    store.begin();
    const first = step(plan, state, facts);
    store.apply(first);
    const needs = [...first.needs];
    for (let need = needs.shift(); need !== undefined; need = needs.shift()) {
      const out = step(plan, state, [{ kind: 'stored', answer: store.answer(need) }]);
      store.apply(out);
      needs.push(...out.needs);
    }
    store.commit();
  } catch (error) {
    store.rollback();
    throw error;
  }
}

/** Opens a reader for the work and closes it again. */
export function withReader<T>(dir: string, work: (reader: ReadStore) => T): T {
  const reader = openReader(dir);
  try {
    return work(reader);
  } finally {
    reader.close();
  }
}

export function ledgersOf(dir: string): SensorLedger[] {
  return withReader(dir, (reader) => proveLedger(reader, { sensor: null, from: null, to: null }));
}

/** Looks into the file, past the store. */
export function withFile<T>(dir: string, work: (db: Database.Database) => T): T {
  const db = new Database(join(dir, FILE_NAME));
  try {
    return work(db);
  } finally {
    db.close();
  }
}

/** Every row of every table as text; equal texts mean equal contents. */
export function dumpTables(dir: string): string {
  return withFile(dir, (db) => {
    const tables = db
      .prepare(
        `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name`,
      )
      .pluck()
      .all() as string[];
    return tables
      .map((table) => {
        const rows = db.prepare(`SELECT * FROM ${table}`).raw().all();
        return [table, ...rows.map((row) => JSON.stringify(row))].join('\n');
      })
      .join('\n');
  });
}
