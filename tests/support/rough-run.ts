/**
 * Runs a rough plant through the core in some disorder, to one far end, so that final states can be held against one
 * another.
 */
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { seeded, withTicks } from './little-plant.js';
import { MemoryStore, reopen, runBatch } from './memory-store.js';
import { makePlan } from './plans.js';
import type { RoughPlant } from './rough-plant.js';

export interface Disorder {
  /** longest delay of a third of the messages, ms; presences are never late: their time is their arrival */
  delayMs?: number;
  /** only these kinds are delayed */
  late?: 'drive' | 'reading';
  batch?: number;
  duplicates?: boolean;
  restarts?: boolean;
  tickMs?: number;
  /** nothing arrives and no tick falls in this stretch (minutes from the start); then all comes at once */
  outage?: [number, number];
  /** readings of the first motors that come an hour late, as a backlog behind live ones (minutes from the start) */
  backlog?: [number, number];
}

export function disturb(plant: RoughPlant, seed: number, disorder: Disorder): Fact[] {
  const random = seeded(seed ^ 0x2f6e);
  let facts = plant.facts.map((fact) => ({ ...fact }));
  const { delayMs, outage, backlog } = disorder;
  if (disorder.duplicates) {
    facts = facts.flatMap((f) =>
      f.kind !== 'drive-presence' && random() < 0.05
        ? [f, { ...f, receivedAt: f.receivedAt + Math.floor(random() * 90_000) }]
        : [f],
    );
  }
  for (const fact of facts) {
    if (fact.kind === 'drive-presence') continue;
    if (delayMs !== undefined && (disorder.late ?? fact.kind) === fact.kind && random() < 0.33)
      fact.receivedAt += Math.floor(random() * delayMs);
    const minute = ((fact.at ?? 0) - plant.start) / 60_000;
    if (backlog !== undefined && fact.kind === 'reading' && /fan-[135]\//.test(fact.sensor)) {
      if (minute > backlog[0] && minute < backlog[1])
        fact.receivedAt = Math.floor(plant.start + (backlog[1] + 60) * 60_000 + random() * 90_000);
    }
    if (outage !== undefined) {
      const end = plant.start + outage[1] * 60_000;
      if (fact.receivedAt > plant.start + outage[0] * 60_000 && fact.receivedAt < end)
        fact.receivedAt = end + Math.floor(random() * 5000);
    }
  }
  facts.sort((a, b) => a.receivedAt - b.receivedAt);
  const mixed = withTicks(facts, disorder.tickMs ?? 1000, 300_000);
  if (outage === undefined) return mixed;
  const [from, to] = [plant.start + outage[0] * 60_000, plant.start + outage[1] * 60_000];
  return mixed.filter((fact) => fact.kind !== 'tick' || fact.now < from || fact.now > to);
}

export function runRough(plant: RoughPlant, facts: readonly Fact[], disorder: Disorder): MemoryStore {
  const plan = makePlan(plant.motors, plant.sensors);
  const store = new MemoryStore();
  let state = openState(plan, null);
  const size = disorder.batch ?? 1000;
  for (let i = 0; i < facts.length; i += size) {
    runBatch(plan, state, store, facts.slice(i, i + size));
    if (disorder.restarts) state = reopen(plan, store);
  }
  const end = plant.end + 5 * 3_600_000;
  for (let i = 0; i < 30; i++) runBatch(plan, state, store, [{ kind: 'tick', now: end + i * 60_000 }]);
  return store;
}
