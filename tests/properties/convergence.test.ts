/**
 * Convergence: the final increments, classes, rollups and transients are a function of the set of messages. Compared to
 * the byte with a punctual run, under every disorder that the horizon allows.
 */
import { describe, expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { describeFinal, findImbalances, findUnbinned } from '../support/final.js';
import {
  makeLittlePlant,
  seeded,
  withTicks,
  type LittlePlant,
  type Wishes,
} from '../support/little-plant.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { binnedGroup, makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const TAIL_MS = 300_000;

function planFor(wishes: Wishes) {
  const motors = Array.from({ length: wishes.motors }, (_, i) => motorPlan(`pump-${i + 1}`));
  const sensors = motors.flatMap((m) =>
    ['de', 'nde'].map((p) =>
      sensorPlan(m.key, p, { counterBits: wishes.bits, maxRatePerS: wishes.bits === 16 ? 500 : 50_000 }),
    ),
  );
  const bins = wishes.conditions === true ? { dutyGroups: new Map([['', binnedGroup('')]]) } : {};
  return makePlan(motors, sensors, bins);
}

interface Disorder {
  /** longest delay of a message, ms */
  delayMs?: number;
  batch?: number;
  duplicates?: boolean;
  restarts?: boolean;
  tickMs?: number;
  /** readings of this stretch come last, after the live ones */
  backlog?: boolean;
}

function disturb(plant: LittlePlant, seed: number, disorder: Disorder): Fact[] {
  const random = seeded(seed ^ 0x5bd1);
  let facts = plant.facts.map((fact) => ({ ...fact }));
  if (disorder.duplicates) {
    facts = facts.flatMap((f) =>
      random() < 0.05 ? [f, { ...f, receivedAt: f.receivedAt + Math.floor(random() * 60_000) }] : [f],
    );
  }
  if (disorder.delayMs !== undefined) {
    for (const fact of facts) if (random() < 0.3) fact.receivedAt += Math.floor(random() * disorder.delayMs);
  }
  if (disorder.backlog) {
    const from = plant.start + (plant.end - plant.start) * 0.3;
    const to = plant.start + (plant.end - plant.start) * 0.6;
    for (const fact of facts) {
      const held =
        fact.kind === 'reading' && fact.sensor.startsWith('pump-1/') && fact.at! > from && fact.at! < to;
      if (held) fact.receivedAt = Math.floor(to + 600_000 + random() * 60_000);
    }
  }
  facts.sort((a, b) => a.receivedAt - b.receivedAt);
  return withTicks(facts, disorder.tickMs ?? 1000, TAIL_MS + (disorder.delayMs ?? 0));
}

function run(wishes: Wishes, facts: readonly Fact[], disorder: Disorder): MemoryStore {
  const plan = planFor(wishes);
  const store = new MemoryStore();
  let state = openState(plan, null);
  const size = disorder.batch ?? 500;
  for (let i = 0; i < facts.length; i += size) {
    runBatch(plan, state, store, facts.slice(i, i + size));
    if (disorder.restarts) state = reopen(plan, store);
  }
  // to the same far end for all runs, so that the same hours are closed
  const end = 1_700_000_000_000 + (wishes.minutes + 300) * 60_000;
  for (let i = 0; i < 20; i++) runBatch(plan, state, store, [{ kind: 'tick', now: end + i * 60_000 }]);
  return store;
}

const WISHES: Wishes = {
  motors: 5,
  minutes: 130,
  reboots: true,
  bursts: true,
  torn: true,
  boots: true,
  seqs: true,
  rate: 8,
  bits: 32,
};

function compare(seed: number, wishes: Wishes, disorder: Disorder): void {
  const plant = makeLittlePlant(seed, wishes);
  const punctual = run(wishes, disturb(plant, seed, {}), {});
  expect(findImbalances(punctual)).toEqual([]);
  const disturbed = run(wishes, disturb(plant, seed, disorder), disorder);
  expect(findImbalances(disturbed)).toEqual([]);
  expect(findUnbinned(disturbed, wishes.conditions === true)).toEqual([]);
  expect(describeFinal(disturbed)).toEqual(describeFinal(punctual));
}

describe('final state is the same', () => {
  for (const seed of [1, 2, 3]) {
    it(`whatever the batches (seed ${seed})`, () => compare(seed, WISHES, { batch: 7 }));
    it(`with extra ticks and few ticks (seed ${seed})`, () => {
      compare(seed, WISHES, { tickMs: 250 });
      compare(seed, WISHES, { tickMs: 20_000 });
    });
    it(`with duplicates (seed ${seed})`, () => compare(seed, WISHES, { duplicates: true }));
    it(`with short delays (seed ${seed})`, () => compare(seed, WISHES, { delayMs: 30_000 }));
    it(`with delays of half an hour (seed ${seed})`, () => compare(seed, WISHES, { delayMs: 1_800_000 }));
    it(`with a backlog after live readings (seed ${seed})`, () => compare(seed, WISHES, { backlog: true }));
    it(`with restarts at every batch (seed ${seed})`, () =>
      compare(seed, WISHES, { restarts: true, batch: 400 }));
    it(`with everything at once (seed ${seed})`, () =>
      compare(seed, WISHES, {
        restarts: true,
        batch: 900,
        delayMs: 600_000,
        duplicates: true,
        backlog: true,
      }));
    it(`for counters of 16 bits without boot numbers (seed ${seed})`, () =>
      compare(
        seed,
        { ...WISHES, bits: 16, boots: false, reboots: false, torn: false },
        { delayMs: 600_000, duplicates: true },
      ));
    it(`for bare counters without sequence (seed ${seed})`, () =>
      compare(
        seed,
        { ...WISHES, bits: 53, boots: false, seqs: false, reboots: false },
        { delayMs: 600_000 },
      ));
  }
});

describe('condition bins are the same', () => {
  const conditions = { ...WISHES, motors: 4, conditions: true };
  for (const seed of [1, 2, 3]) {
    it(`whatever the batches, with restarts at every one (seed ${seed})`, () =>
      compare(seed, conditions, { restarts: true, batch: 300 }));
    it(`with drive messages and readings late by up to half an hour (seed ${seed})`, () =>
      compare(seed, conditions, { delayMs: 1_800_000 }));
    it(`with everything at once (seed ${seed})`, () =>
      compare(seed, conditions, {
        ...{ restarts: true, batch: 900, delayMs: 5_400_000, duplicates: true, backlog: true, tickMs: 3000 },
      }));
  }
});
