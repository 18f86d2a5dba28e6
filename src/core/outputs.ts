/** An empty set of outputs, to be filled by a step. */
import type { Outputs } from './rows.js';

/** Nothing to store. */
export function emptyOutputs(): Outputs {
  return {
    chains: [],
    removedIncrements: [],
    increments: [],
    removedSegments: [],
    segments: [],
    drives: [],
    presences: [],
    windows: [],
    windowsRevised: [],
    rollups: [],
    removedSpreads: [],
    spreads: [],
    removedTransients: [],
    transients: [],
    removedBursts: [],
    bursts: [],
    removedVotes: [],
    votes: [],
    alarms: [],
    actions: [],
    findings: [],
    journal: [],
    flood: null,
    diagnostics: [],
    checkpoints: [],
    rates: [],
    answers: [],
    needs: [],
  };
}
