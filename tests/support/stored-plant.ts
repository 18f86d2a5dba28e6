/**
 * A simulated plant in the real store, through decoder, core and transaction. The gateway may be down for a while, and a person
 * may enter things; readings may be made punctual, as no network ever is.
 */
import { parseConfig } from '../../src/config/parse.js';
import type { Fact } from '../../src/core/facts.js';
import type { Plan } from '../../src/core/plan.js';
import { CORE } from '../../src/engine/engine-core.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import { commitBatch } from '../../src/engine/transaction.js';
import type { Message } from '../../simulator/messages.js';
import { toFacts } from './simulated.js';

const DAYS_MOST = 36_500;
export const FOREVER = {
  incrementsDays: DAYS_MOST,
  minutesDays: DAYS_MOST,
  tenMinutesDays: DAYS_MOST,
  hoursDays: DAYS_MOST,
  journalDays: DAYS_MOST,
  quarantineDays: DAYS_MOST,
  drivesDays: DAYS_MOST,
};

export interface StoredPlantWishes {
  readonly dataDir: string;
  readonly plan: Plan;
  readonly messages: readonly Message[];
  /** entered when the gateway's clock has reached the first number */
  readonly entries?: readonly (readonly [at: number, fact: Fact])[];
  /** the gateway is restarted whenever its clock has reached one of these */
  readonly restarts?: readonly number[];
  /** while it is down nothing is taken: messages of that time arrive at its end */
  readonly down?: { readonly from: number; readonly to: number };
}

export function planOfConfig(text: string, name = 'plant.yaml'): Plan {
  const config = parseConfig(text, name);
  if (!config.ok) throw new Error(config.problems.map((problem) => JSON.stringify(problem)).join('\n'));
  return config.plan;
}

/** Every reading arrives just after it was taken. */
export function makePunctual(messages: readonly Message[]): Message[] {
  return messages
    .map((message) => {
      const at = (message.payload as { at?: unknown }).at;
      if (!message.topic.endsWith('/reading') || typeof at !== 'number') return message;
      return { ...message, arrived: at + 40 };
    })
    .sort((a, b) => a.arrived - b.arrived);
}

function hold(messages: readonly Message[], down: StoredPlantWishes['down']): Message[] {
  if (down === undefined) return [...messages];
  const late = (message: Message): Message =>
    message.arrived >= down.from && message.arrived < down.to ? { ...message, arrived: down.to } : message;
  return messages.map(late);
}

/** Writes all of it, and lets the core come to rest. */
export function storePlant(wishes: StoredPlantWishes): void {
  const { plan, dataDir, entries = [], restarts = [] } = wishes;
  const { facts } = toFacts(plan, hold(wishes.messages, wishes.down));
  const settings = {
    dataDir,
    plan,
    minCommitIntervalMs: 0,
    storage: { walBytesMax: 1e8, retention: FOREVER },
  };
  let store = openEngineStore(settings);
  let state = CORE.open(plan, null);
  const left = [...entries];
  const due = [...restarts];
  let now = 0;
  let batch: Fact[] = [];
  const commit = (): void => {
    const all = { facts: batch, rejections: [], checkpoints: [], journal: [] };
    commitBatch(CORE, store, plan, state, all, () => undefined, null);
    batch = [];
  };
  const tick = (at: number): void => {
    now = at;
    batch.push({ kind: 'tick', now });
    for (; left.length > 0 && left[0]![0] <= now; left.shift()) batch.push(left[0]![1]);
    if (due.length === 0 || due[0]! > now) return;
    due.shift();
    commit();
    store.close();
    store = openEngineStore(settings);
    state = CORE.open(plan, store.restore(plan, CORE.restoreReachMs));
  };
  for (const fact of facts) {
    if (fact.kind === 'tick') tick(fact.now);
    else batch.push(fact);
    if (batch.length >= 4000) commit();
  }
  for (const end = now + 120_000; now < end || CORE.hasWork(state);) {
    tick(now + 5000);
    commit();
  }
  store.close();
}
