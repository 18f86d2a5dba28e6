/** A simulated plant, run through the decoder and the core into the store in memory. */
import { parseConfig } from '../../src/config/parse.js';
import type { Fact } from '../../src/core/facts.js';
import type { DutyGroupPlan, Plan } from '../../src/core/plan.js';
import { hasWork, openState, type CoreState } from '../../src/core/step.js';
import { decodeJson, routeTopic } from '../../src/engine/decode.js';
import { writeGatewayConfig } from '../../simulator/gateway-config.js';
import type { Message } from '../../simulator/messages.js';
import { simulate, type Simulation } from '../../simulator/simulation.js';
import type { SmallPlant } from '../../simulator/small-plants.js';
import { MemoryStore, runBatch } from './memory-store.js';

export interface SimulatedRun extends Simulation {
  plan: Plan;
  store: MemoryStore;
  /** of the core, at rest */
  state: CoreState;
  refused: number;
}

/** Facts of a capture, with a tick for each whole second that passes. */
export function toFacts(plan: Plan, messages: readonly Message[]): { facts: Fact[]; refused: number } {
  const facts: Fact[] = [];
  let refused = 0;
  let tick = 0;
  for (const message of messages) {
    const second = Math.floor(message.arrived / 1000) * 1000;
    if (second > tick) facts.push({ kind: 'tick', now: (tick = second) });
    if (message.event !== undefined || message.topic === '') continue;
    if (Buffer.isBuffer(message.payload)) {
      refused += 1;
      continue;
    }
    const decoded = decodeJson(routeTopic(message.topic, plan), message.payload, message.arrived);
    if (!decoded.ok) refused += 1;
    else if (decoded.fact !== null) facts.push(decoded.fact);
  }
  return { facts, refused };
}

/** `groups`: condition bins of duty groups, which a scenario does not have. */
export function runPlant(plant: SmallPlant, groups: readonly DutyGroupPlan[] = []): SimulatedRun {
  const simulation = simulate(plant.scenario, plant.seed, plant.hours);
  const config = parseConfig(writeGatewayConfig(plant.scenario), `plant-${plant.seed}.yaml`);
  if (!config.ok) throw new Error(config.problems.map((p) => JSON.stringify(p)).join('\n'));
  const plan = { ...config.plan, dutyGroups: new Map(groups.map((group) => [group.key, group])) };
  const { facts, refused } = toFacts(plan, simulation.messages);
  const store = new MemoryStore();
  const state = openState(plan, null);
  for (let i = 0; i < facts.length; i += 4000) runBatch(plan, state, store, facts.slice(i, i + 4000));
  for (let end = state.now + 120_000; state.now < end || hasWork(state);) {
    runBatch(plan, state, store, [{ kind: 'tick', now: state.now + 5000 }]);
    if (state.now > end + 86_400_000) throw new Error('the core never comes to rest');
  }
  return { ...simulation, plan, store, state, refused };
}
