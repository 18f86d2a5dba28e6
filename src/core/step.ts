/**
 * Front door of the core: facts in, rows out. Deterministic; reads no clock; does no I/O.
 * (placeholder signature until the rooms behind it land)
 */
import type { Fact } from './facts.js';
import type { Plan } from './plan.js';
import type { Outputs } from './rows.js';
import type { Restored } from './needs.js';

export interface CoreState {
  readonly now: number;
}

export declare function openState(plan: Plan, restored: Restored | null): CoreState;
export declare function step(plan: Plan, state: CoreState, facts: readonly Fact[]): Outputs;
/** Plan changed (reload): carries the state over. */
export declare function changePlan(plan: Plan, state: CoreState): void;
