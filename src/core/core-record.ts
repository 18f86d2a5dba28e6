/** What the core keeps of the plant as a whole between runs. */
import type { CoreState } from './state.js';

interface CoreRecord {
  now: number;
  nextChain: number;
  /** absent in records of before sisters were compared */
  peersDay?: number;
  torn?: string[];
}

export function coreRecord(state: CoreState): CoreRecord {
  const { now, nextChain, peersDay, torn } = state;
  return { now, nextChain, peersDay, torn: [...torn] };
}

export function restoreCore(state: CoreState, json: string): void {
  const { now, nextChain, peersDay, torn } = JSON.parse(json) as CoreRecord;
  state.now = now;
  state.conditionsAt = now;
  state.nextChain = nextChain;
  state.peersDay = peersDay ?? 0;
  state.torn = new Set(torn ?? []);
}
