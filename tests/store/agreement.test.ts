/**
 * The SQLite store and the store in memory, fed with the same steps, hold the same: increments, rollups, transients,
 * ledger; through restarts too.
 */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState, RESTORE_REACH_MS, step } from '../../src/core/step.js';
import { proveLedger } from '../../src/store/ledger.js';
import { openReader } from '../../src/store/reader.js';
import { openStore, type Store } from '../../src/store/store.js';
import { describeFinal, describeRollup } from '../support/final.js';
import { makeLittlePlant, withTicks, type Wishes } from '../support/little-plant.js';
import { MemoryStore, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-store-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

const WISHES: Wishes = {
  motors: 4,
  minutes: 150,
  reboots: true,
  bursts: true,
  torn: true,
  boots: true,
  seqs: true,
  rate: 8,
  bits: 32,
};
const motors = Array.from({ length: WISHES.motors }, (_, i) => motorPlan(`pump-${i + 1}`));
const plan = makePlan(
  motors,
  motors.flatMap((m) => ['de', 'nde'].map((p) => sensorPlan(m.key, p, { counterBits: 32 }))),
);

/** One batch, as the engine does it. */
function commitBatch(store: Store, state: ReturnType<typeof openState>, facts: readonly Fact[]): void {
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
}

function scrambled(seed: number): Fact[] {
  const { facts } = makeLittlePlant(seed, WISHES);
  facts.forEach((fact, i) => {
    if (i % 7 === 0) Object.assign(fact, { receivedAt: fact.receivedAt + (i % 1000) * 1000 });
  });
  facts.sort((a, b) => a.receivedAt - b.receivedAt);
  return withTicks(facts, 1000, 2_000_000);
}

describe('the store', () => {
  it.each([1, 2])('holds what the store in memory holds, through restarts (seed %i)', (seed) => {
    const facts = scrambled(seed);
    const memory = new MemoryStore();
    const state = openState(plan, null);
    let store = openStore(dir);
    let other = openState(plan, store.restore(plan, RESTORE_REACH_MS));
    for (let i = 0; i < facts.length; i += 2000) {
      runBatch(plan, state, memory, facts.slice(i, i + 2000));
      commitBatch(store, other, facts.slice(i, i + 2000));
      if (i % 8000 === 0) {
        store.close();
        store = openStore(dir);
        other = openState(plan, store.restore(plan, RESTORE_REACH_MS));
      }
    }
    store.close();
    const reader = openReader(dir);
    const final = describeFinal(memory);
    const increments = [...reader.increments({ sensor: null, from: null, to: null })].flat();
    expect(increments).toHaveLength(final.increments.length);
    const expected = [...memory.increments.values()].flat();
    const sum = (cls: string) => increments.filter((r) => r.class === cls).reduce((s, r) => s + r.pulses, 0);
    for (const [name, cls] of [
      ['running', 6],
      ['transient', 4],
      ['background', 7],
      ['common', 5],
    ] as const) {
      expect(sum(name)).toBe(expected.filter((r) => r.class === cls).reduce((s, r) => s + r.pulses, 0));
    }
    for (const period of ['1m', '10m', '1h'] as const) {
      const { items } = reader.rollups({
        sensor: null,
        period,
        from: null,
        to: null,
        limit: 1e6,
        cursor: null,
      });
      const lines = items.map(describeRollup).sort();
      expect(lines).toEqual(final.rollups.filter((line) => line.includes(` ${period} `)));
    }
    expect(
      reader.transients({ motor: null, from: null, to: null, limit: 1e6, cursor: null }).items,
    ).toHaveLength(final.transients.length);
    const ledgers = proveLedger(reader, { sensor: null, from: null, to: null });
    expect(ledgers.flatMap((l) => l.faults)).toEqual([]);
    expect(ledgers).toHaveLength(8);
    reader.close();
    const readings = facts.filter((f) => f.kind === 'reading').length;
    const db = new Database(join(dir, 'tallypost.db'));
    db.pragma('wal_checkpoint(TRUNCATE)');
    db.close();
    expect(statSync(join(dir, 'tallypost.db')).size / readings).toBeLessThan(120);
  });

  it('finds one altered increment', () => {
    const store = openStore(dir);
    const state = openState(plan, null);
    commitBatch(store, state, scrambled(3).slice(0, 4000));
    store.close();
    const db = new Database(join(dir, 'tallypost.db'));
    db.exec(
      'UPDATE increment SET pulses = pulses + 1 WHERE (sensor, to_ms) = (SELECT sensor, to_ms FROM increment WHERE pulses > 0 LIMIT 1)',
    );
    db.close();
    const reader = openReader(dir);
    expect(
      proveLedger(reader, { sensor: null, from: null, to: null }).filter((l) => !l.balanced),
    ).toHaveLength(1);
    reader.close();
  });
});
