/** The store as the engine uses it: one writer, one transaction at a time. Every call may throw; `rollback` never does. */
import type { Answer, Need, Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type { Outputs } from '../core/rows.js';
import type { Rejection } from './quarantine.js';
import type { StoredRollup } from './told.js';

export interface EngineStore {
  /** where a corrupt file was put at opening; null: none was found */
  readonly setAside: string | null;
  begin(): void;
  /** answers with the rollups as they stand after these additions, unless nobody is told of them */
  apply(
    outputs: Outputs,
    isTold: boolean,
  ): {
    readonly rollups: readonly StoredRollup[];
    /** number of the first entry of the journal, the others follow it; absent or null: nobody knows, or there is none */
    readonly journalFrom?: number | null;
  };
  quarantine(rows: readonly Rejection[]): void;
  answer(need: Need): Answer;
  /** last in the transaction: what it changed is entered for those it is forwarded to; `now` in ms. Absent: to nobody */
  enterOutbox?(now: number): void;
  /** entries of the outbox that nobody waits for any more, by stream the last of them */
  settleOutbox?(done: ReadonlyMap<number, number>): void;
  commit(): void;
  rollback(): void;
  restore(plan: Plan, reachMs: number): Restored;
  /** a consistent copy in a new file; resolves with its size */
  backup(path: string): Promise<number>;
  /** Between two batches: a slice of what is past its time goes; true: there is more to do. `now` in ms. */
  tidy(now: number): boolean;
  close(): void;
}
