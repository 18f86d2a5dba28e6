/**
 * The closed lists of words that messages and HTTP bodies share: run states, classes, quality, periods.
 * Source: run states, classes and quality as the design of the gateway names them; quality follows OPC UA severity.
 */

/** What a drive may report. */
export const RUN_STATES = ['stopped', 'starting', 'running', 'stopping', 'fault'] as const;
export type RunStateName = (typeof RUN_STATES)[number];

/** What the gateway may tell: a drive's state, or that nobody has told it lately. */
export const TOLD_RUN_STATES = [...RUN_STATES, 'unknown'] as const;

/** Classes of the ledger in order of precedence; the place in the list plus one is the number of the class. */
export const LEDGER_CLASS_NAMES = [
  'rejected',
  'check',
  'unattributed',
  'transient',
  'common',
  'running',
  'background',
] as const;
export type LedgerClassName = (typeof LEDGER_CLASS_NAMES)[number];

export const QUALITIES = ['good', 'uncertain', 'bad'] as const;
export type QualityName = (typeof QUALITIES)[number];

/** The inverter switches in these states unless its message says otherwise. */
export function modulatesIn(state: RunStateName): boolean {
  return state === 'starting' || state === 'running' || state === 'stopping';
}
