/**
 * Readings per second through the pure core alone. A first pass answers the core's questions from a store in memory and
 * writes down every fact, answers included; the timed passes run the same facts again with no store in the way.
 */
import { createHash } from 'node:crypto';
import type { Fact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import { openState, step } from '../../src/core/step.js';
import { MemoryStore } from '../support/memory-store.js';
import { makePlan, motorPlan, rateAlarm, sensorPlan } from '../support/plans.js';
import { countReadings, makeBatches, motorName, type FleetWishes } from './fleet.js';
import { spreadOf, type Spread } from './spread.js';

export interface CoreResult {
  readonly sensors: number;
  readonly readings: number;
  readonly rounds: number;
  readonly perSecond: Spread;
  /** questions to the store in one round */
  readonly needs: number;
  /** of all increments: sensor, time, pulses and class */
  readonly hash: string;
}

function planFleet(wishes: FleetWishes): Plan {
  const names = Array.from({ length: wishes.sensors }, (_, i) => motorName(i));
  const motors = names.map((name, i) => motorPlan(name, { zone: `zone-${Math.floor(i / 20)}` }));
  const sensors = names.map((name) => sensorPlan(name, 'de', { intervalMs: wishes.intervalMs }));
  return makePlan(motors, sensors, { rateAlarms: names.map((name) => rateAlarm(`${name}/de`, 600)) });
}

/** Every round runs the same facts through a new state, in batches as the engine makes them under load. */
export function measureCore(wishes: FleetWishes, rounds: number, batch = 500): CoreResult {
  const plan = planFleet(wishes);
  const recorded = recordPass(plan, makeBatches(wishes, batch));
  const rates: number[] = [];
  for (let round = 0; round < rounds; round++) {
    rates.push(countReadings(wishes) / timePass(plan, recorded.batches));
  }
  return {
    sensors: wishes.sensors,
    readings: countReadings(wishes),
    rounds,
    perSecond: spreadOf(rates),
    needs: recorded.needs,
    hash: recorded.hash,
  };
}

interface Recorded {
  readonly batches: Fact[][];
  readonly needs: number;
  readonly hash: string;
}

function recordPass(plan: Plan, batches: Fact[][]): Recorded {
  const store = new MemoryStore();
  const state = openState(plan, null);
  const recorded: Fact[][] = [];
  let needs = 0;
  const run = (facts: Fact[]): readonly Parameters<MemoryStore['answer']>[0][] => {
    recorded.push(facts.map(copyAnswer));
    const out = step(plan, state, facts);
    store.apply(out);
    return out.needs;
  };
  for (const facts of batches) {
    const open = [...run(facts)];
    for (let need = open.shift(); need !== undefined; need = open.shift()) {
      needs += 1;
      open.push(...run([{ kind: 'stored', answer: store.answer(need) }]));
    }
  }
  return { batches: recorded, needs, hash: hashIncrements(store) };
}

/** The core may change the rows of an answer, so that every pass needs its own. */
function copyAnswer(fact: Fact): Fact {
  return fact.kind === 'stored' ? structuredClone(fact) : fact;
}

/** Seconds in `step`. */
function timePass(plan: Plan, recorded: readonly Fact[][]): number {
  const state = openState(plan, null);
  let seconds = 0;
  for (const facts of recorded) {
    const own = facts.map(copyAnswer);
    const before = performance.now();
    const out = step(plan, state, own);
    seconds += performance.now() - before;
    for (const row of out.increments) row.stored = true;
  }
  return seconds / 1000;
}

function hashIncrements(store: MemoryStore): string {
  const hash = createHash('sha256');
  for (const sensor of [...store.increments.keys()].sort()) {
    for (const row of store.sortedIncrements(sensor))
      hash.update(`${sensor} ${row.to} ${row.pulses} ${row.class}\n`);
  }
  return hash.digest('hex').slice(0, 16);
}
