/** What guided commissioning reads from the store, and where its runs are kept. Times in ms. */
import type { DriveMessage, HeardCounts } from '../advice/commissioning.js';
import type { Page } from './deps.js';

export interface CommissioningReader {
  /** in the order of the sensors asked for */
  heard(query: {
    readonly sensors: readonly string[];
    readonly motor: string;
    readonly from: number;
    readonly to: number;
    /** the yardstick ends here, and is so long */
    readonly before: number;
    readonly beforeMs: number;
    /** no part of the yardstick */
    readonly skip: readonly { readonly from: number; readonly to: number }[];
    readonly isWhole: boolean;
  }): Promise<readonly HeardCounts[]>;
  /** the last message of each motor before `from` and those up to `to`, by motor and time */
  driveChanges(query: {
    readonly motors: readonly string[];
    readonly from: number;
    readonly to: number;
  }): Promise<readonly DriveMessage[]>;
  /** JSON as it was kept, newest first */
  keptRuns(query: {
    readonly motor: string | null;
    readonly limit: number;
    readonly cursor: string | null;
  }): Promise<Page<string>>;
  /** null: there is none */
  keptRun(id: number): Promise<string | null>;
}

/** A function check of a sensor begins or ends: what it counts in between is of class `check`, for ten minutes at most. */
export interface CheckMark {
  readonly sensor: string;
  readonly act: 'begin' | 'end';
  readonly who: string;
}

export interface CommissioningKeeper {
  /** Stores a run under its place, a line of the journal (null: none) about the motor, and checks, in one transaction. */
  keep(
    place: number,
    json: string,
    entry: { readonly motor: string; readonly who: string; readonly text: string } | null,
    checks: readonly CheckMark[],
  ): Promise<void>;
}
