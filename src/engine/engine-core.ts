/** The core as the engine uses it. A port, so that a test may stand in its place. */
import type { Fact } from '../core/facts.js';
import type { Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type { Outputs } from '../core/rows.js';
import { hasWork, openState, RESTORE_REACH_MS, step, type CoreState } from '../core/step.js';

export interface EngineCore<S> {
  /** how far back rows are wanted at start, ms */
  readonly restoreReachMs: number;
  open(plan: Plan, restored: Restored | null): S;
  step(plan: Plan, state: S, facts: readonly Fact[]): Outputs;
  /** whether something still waits for ticks */
  hasWork(state: S): boolean;
}

export const CORE: EngineCore<CoreState> = {
  restoreReachMs: RESTORE_REACH_MS,
  open: openState,
  step,
  hasWork,
};
