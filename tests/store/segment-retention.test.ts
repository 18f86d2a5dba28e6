/** Retention of increments and segments: slices are bounded, and the ledger of what is left balances. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { openState, step } from '../../src/core/step.js';
import { KEPT_ROWS } from '../../src/store/load.js';
import type { Retention } from '../../src/store/retention.js';
import { openStore, type Store } from '../../src/store/store.js';
import { addCounters, STEP_MS, STEP_PULSES, type Counter } from './plain-rows.js';
import { commitBatch, factsOf, ledgersOf, planOf, restoreState, withFile } from './store-rig.js';

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-retention-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

const plan = planOf(1);
const START = 1_700_000_000_000;
const DAY_MS = 86_400_000;
const LONG: Retention = {
  incrementsDays: 14,
  windowsDays: 14,
  minutesDays: 400,
  tenMinutesDays: 400,
  hoursDays: 4000,
  journalDays: 400,
  quarantineDays: 400,
  drivesDays: 400,
};

function putCounters(store: Store, counters: readonly Counter[]): void {
  store.begin();
  store.apply(addCounters(step(plan, openState(plan, null), []), counters));
  store.commit();
}

/** Retains until there is nothing left to do; the slices it took. */
function retainAll(store: Store, now: number, retention: Retention): number[] {
  const slices: number[] = [];
  for (let did = store.retain(now, retention); did > 0; did = store.retain(now, retention)) slices.push(did);
  return slices;
}

function count(table: string, where = '1'): number {
  return withFile(dir, (db) =>
    db.prepare(`SELECT count(*) FROM ${table} WHERE ${where}`).pluck().get(),
  ) as number;
}

function faultsOf(): string[] {
  return ledgersOf(dir).flatMap((ledger) => ledger.faults);
}

describe('retention of segments', () => {
  it('gives the space back to the disk, in slices that are bounded', () => {
    const store = openStore(dir);
    const readings = 60_000;
    for (const [chain, sensor] of [
      [1, 'pump-1/de'],
      [2, 'pump-1/nde'],
    ] as const)
      putCounters(store, [{ sensor, chain, boot: 1, from: START, readings }]);
    store.checkpointWal();
    const full = store.stats().databaseBytes;
    const end = START + readings * STEP_MS;
    const sliceMs: number[] = [];
    for (let did = 1; did > 0;) {
      const start = performance.now();
      did = store.retain(end, { ...LONG, incrementsDays: 0.5 });
      sliceMs.push(performance.now() - start);
      expect(did).toBeLessThanOrEqual(4000 + 500);
    }
    store.checkpointWal();
    const { databaseBytes, freeBytes } = store.stats();
    store.close();
    expect(sliceMs.length).toBeGreaterThan((2 * (readings - 0.5 * 8640)) / 4000);
    expect(Math.max(...sliceMs)).toBeLessThan(1000);
    expect(databaseBytes).toBeLessThan(full / 2);
    expect(freeBytes).toBeLessThanOrEqual(300 * 4096);
    expect(count('increment', `to_ms < ${end - 0.5 * DAY_MS * 1.02}`)).toBe(0);
    expect(count('increment', `to_ms >= ${end - 0.5 * DAY_MS}`)).toBe(2 * 0.5 * 8640);
    expect(withFile(dir, (db) => db.pragma('integrity_check', { simple: true }))).toBe('ok');
    expect(faultsOf()).toEqual([]);
  });

  it.each([
    ['by seq', 1],
    ['by time', null],
  ] as const)('cuts a segment in two, and what is left of it balances: counters %s', (_, boot) => {
    const store = openStore(dir);
    const readings = 5000;
    putCounters(store, [{ sensor: 'pump-1/de', chain: 1, boot, from: START, readings }]);
    const end = START + readings * STEP_MS;
    retainAll(store, end, { ...LONG, incrementsDays: 0.1 });
    store.close();
    const left = count('increment');
    expect(left).toBeGreaterThanOrEqual(864);
    expect(left).toBeLessThan(900);
    expect(count('segment')).toBe(1);
    const [ledger] = ledgersOf(dir);
    expect(ledger!.faults).toEqual([]);
    expect(ledger!.counted).toBe((left - 1) * STEP_PULSES);
    expect(ledger!.classified).toBe(ledger!.counted);
    withFile(dir, (db) =>
      db.exec(
        'UPDATE increment SET pulses = pulses + 1 WHERE to_ms = (SELECT to_ms FROM increment ORDER BY to_ms DESC LIMIT 1 OFFSET 9)',
      ),
    );
    expect(ledgersOf(dir)[0]!.balanced).toBe(false);
  });

  it.each([
    ['by seq', 1],
    ['by time', null],
  ] as const)('removes old segments, and their counters at the next opening: %s', (_, boot) => {
    const store = openStore(dir);
    const readings = 2000;
    const counters = [1, 2, 3, 4].map((chain) => ({
      sensor: 'pump-1/de',
      chain,
      boot: boot === null ? null : chain,
      from: START + (chain - 1) * readings * STEP_MS,
      readings,
    }));
    putCounters(store, counters);
    const end = START + 4 * readings * STEP_MS;
    retainAll(store, end, { ...LONG, incrementsDays: (1.5 * readings * STEP_MS) / DAY_MS });
    expect(count('segment')).toBe(2);
    expect(count('chain')).toBe(4);
    expect(count('chain_part', 'chain < 3')).toBe(0);
    expect(faultsOf()).toEqual([]);
    store.close();
    openStore(dir).close();
    expect(count('chain')).toBe(2);
    expect(faultsOf()).toEqual([]);
  });

  it('leaves a ledger that balances when the core wrote it, through reboots and torn counts, and the core goes on', () => {
    const facts = factsOf(11, { minutes: 600 });
    const half = Math.floor(facts.length / 2);
    let store = openStore(dir);
    commitBatch(store, plan, openState(plan, null), facts.slice(0, half));
    const now = facts.slice(0, half).reduce((t, f) => (f.kind === 'tick' ? Math.max(t, f.now) : t), 0);
    const before = count('increment');
    expect(retainAll(store, now, { ...LONG, incrementsDays: 1 / 24 }).length).toBeGreaterThan(0);
    expect(count('increment')).toBeLessThan(before / 2);
    expect(faultsOf()).toEqual([]);
    store.close();
    store = openStore(dir);
    commitBatch(store, plan, restoreState(store, plan), facts.slice(half));
    expect(faultsOf()).toEqual([]);
    retainAll(store, now + 4 * 3_600_000, { ...LONG, incrementsDays: 1 / 24 });
    store.close();
    expect(faultsOf()).toEqual([]);
    expect(count('increment')).toBeGreaterThan(2 * KEPT_ROWS);
  });
});
