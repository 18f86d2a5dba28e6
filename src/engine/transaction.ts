/**
 * The one way from facts to disk, live and in replay alike: one transaction holds what the core makes of a batch, what it
 * asked for on the way, what was refused, and the engine's own records.
 */
import type { Fact } from '../core/facts.js';
import type { Plan } from '../core/plan.js';
import type { JournalEntry } from '../core/alarm-rows.js';
import type { CheckpointRow, Outputs } from '../core/rows.js';
import type { EngineCore } from './engine-core.js';
import type { EngineStore } from './engine-store.js';
import type { Rejection } from './quarantine.js';
import type { StoredRollup } from './told.js';

/** A batch as it is committed. */
export interface Batch {
  readonly facts: readonly Fact[];
  readonly rejections: readonly Rejection[];
  readonly checkpoints: readonly CheckpointRow[];
  readonly journal: readonly JournalEntry[];
  /** wall clock, ms; absent: nothing is forwarded */
  readonly now?: number;
}

/** Questions of one batch to the store; more than this is a loop, and our mistake. */
const NEEDS_MAX = 1_000_000;

/**
 * Commits a batch. `before` sees each step's outputs before they are applied, and may add to them; `after` the rollups that
 * came of them; null: nobody is told. `numbered` the number of each step's first entry of the journal.
 * Throws when anything fails; the transaction is rolled back then and `state` must not be used any more.
 */
export function commitBatch<S>(
  core: EngineCore<S>,
  store: EngineStore,
  plan: Plan,
  state: S,
  batch: Batch,
  before: (out: Outputs) => void,
  after: ((rollups: readonly StoredRollup[]) => void) | null,
  numbered: (journalFrom: number | null) => void = () => undefined,
): void {
  store.begin();
  try {
    const first = core.step(plan, state, batch.facts);
    first.checkpoints.push(...batch.checkpoints);
    first.journal.push(...batch.journal);
    before(first);
    applyOutputs(store, first, after, numbered);
    const needs = [...first.needs];
    for (let asked = 0; asked < needs.length; asked++) {
      if (asked > NEEDS_MAX) throw new Error(`the core asks without end: ${JSON.stringify(needs[asked])}`);
      const out = core.step(plan, state, [{ kind: 'stored', answer: store.answer(needs[asked]!) }]);
      before(out);
      applyOutputs(store, out, after, numbered);
      needs.push(...out.needs);
    }
    if (batch.rejections.length > 0) store.quarantine(batch.rejections);
    if (batch.now !== undefined) store.enterOutbox?.(batch.now);
    store.commit();
  } catch (error) {
    store.rollback();
    throw error;
  }
}

function applyOutputs(
  store: EngineStore,
  out: Outputs,
  after: ((rollups: readonly StoredRollup[]) => void) | null,
  numbered: (journalFrom: number | null) => void,
): void {
  const { rollups, journalFrom = null } = store.apply(out, after !== null);
  after?.(rollups);
  numbered(journalFrom);
}
