/**
 * A mess: fields missing, clocks wrong, counts torn, messages that contradict one another, in any order, with restarts.
 * Nothing is promised about the classes then, but the ledger still balances and every rollup is the sum of its increments.
 */
import type { DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { Class } from '../../src/core/words.js';
import { seeded, withTicks } from './little-plant.js';
import { MemoryStore, reopen, runBatch } from './memory-store.js';

const HOUR_MS = 3_600_000;

/** One change per share of the cases; what is left over stays as it is. */
function spoilReading(fact: ReadingFact, random: () => number): ReadingFact {
  const at = fact.at!;
  const spoiled: ReadingFact[] = [
    { ...fact, at: null },
    { ...fact, at: null },
    { ...fact, at: at - 3_000_000_000_0 },
    { ...fact, at: at + 600_000 },
    { ...fact, seq: null },
    { ...fact, boot: null },
    { ...fact, count: Math.floor(random() * 60_000) },
    { ...fact, upMs: null },
    { ...fact, at: at + Math.floor((random() - 0.5) * 60_000) },
    { ...fact, seq: fact.seq === null ? null : fact.seq + Math.floor(random() * 50) },
  ];
  return spoiled[Math.floor(random() * 100)] ?? fact;
}

function spoilDrive(fact: DriveFact, random: () => number): DriveFact {
  const at = fact.at!;
  const spoiled: DriveFact[] = [
    { ...fact, at: null, since: null },
    { ...fact, at: null, since: null },
    { ...fact, since: at - 7_200_000 },
    { ...fact, since: at - 7_200_000 },
    { ...fact, modulating: !fact.modulating },
    { ...fact, at: at + 600_000 },
  ];
  return spoiled[Math.floor(random() * 100)] ?? fact;
}

export function spoil(facts: readonly Fact[], random: () => number): Fact[] {
  return facts.map((fact) => {
    if (fact.kind === 'reading') return spoilReading(fact, random);
    return fact.kind === 'drive' ? spoilDrive(fact, random) : fact;
  });
}

/** Runs facts in batches of any size, with restarts between; `until`: when the last tick falls. */
export function runMess(plan: Plan, facts: readonly Fact[], seed: number, until: number): MemoryStore {
  const random = seeded(seed);
  const store = new MemoryStore();
  let state = openState(plan, null);
  const mixed = withTicks(facts, 1000, 300_000);
  for (let i = 0; i < mixed.length;) {
    const size = 1 + Math.floor(random() * 1500);
    runBatch(plan, state, store, mixed.slice(i, i + size));
    i += size;
    if (random() < 0.3) state = reopen(plan, store);
  }
  for (let i = 0; i < 30; i++) runBatch(plan, state, store, [{ kind: 'tick', now: until + i * 60_000 }]);
  return store;
}

/** Increments without a class, and hours that are not the sum of their increments. Empty: all is well. */
export function findUnsummed(store: MemoryStore): string[] {
  const faults: string[] = [];
  const hours = new Map<string, number[]>();
  for (const rows of store.increments.values()) {
    for (const row of rows) {
      if (row.class === Class.none) continue;
      if (row.class === Class.pending) faults.push(`${row.sensor} at ${row.to}: never classified`);
      const key = `${row.sensor}/${Math.floor((row.to - 1) / HOUR_MS) * HOUR_MS}`;
      const sums = hours.get(key) ?? new Array<number>(18).fill(0);
      sums[row.class]! += row.pulses;
      sums[9 + row.class]! += Math.max(0, row.to - row.from);
      hours.set(key, sums);
    }
  }
  for (const rollup of store.rollups.values()) {
    if (rollup.period !== '1h') continue;
    const key = `${rollup.sensor}/${rollup.start}`;
    const sums = hours.get(key) ?? new Array<number>(18).fill(0);
    hours.delete(key);
    const told = [...rollup.pulses, ...rollup.ms];
    if (told.some((value, i) => value !== sums[i]))
      faults.push(`${key}: ${told.join()} told, ${sums.join()} held`);
  }
  for (const [key, sums] of hours)
    if (sums.some((value) => value !== 0)) faults.push(`${key}: no rollup for ${sums.join()}`);
  return faults;
}
