/** What the main thread asks the reading thread. Everything here survives a structured clone. */

/** Names of the queries; each takes one argument or none and answers with plain rows. */
export type QueryName =
  | 'sensors'
  | 'drives'
  | 'lastTransients'
  | 'rollups'
  | 'transients'
  | 'bearingLives'
  | 'count'
  | 'strips'
  | 'actions'
  | 'findings'
  | 'alarms'
  | 'journal'
  | 'journalProof'
  | 'journalSince'
  | 'journalEnd'
  | 'journalAfter'
  | 'journalEntries'
  | 'journalHead'
  | 'kept'
  | 'ledger'
  | 'diagnostics'
  | 'quarantine'
  | 'compare'
  | 'baselines'
  | 'plan'
  | 'dossier'
  | 'performance'
  | 'arrivals'
  | 'refused'
  | 'heard'
  | 'driveChanges'
  | 'keptRuns'
  | 'keptRun'
  | 'compareFile'
  | 'series'
  | 'timeline'
  | 'group';

export interface Question {
  readonly id: number;
  readonly name: QueryName;
  readonly argument: unknown;
}

export type QueryAnswer =
  | { readonly id: number; readonly ok: true; readonly value: unknown }
  | {
      readonly id: number;
      readonly ok: false;
      readonly message: string;
      readonly code: string;
      /** null: a fault of ours, without advice */
      readonly hint: string | null;
    };
