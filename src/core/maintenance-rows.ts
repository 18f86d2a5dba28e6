/**
 * Rows of what people enter about a motor. Once put out a row changes in one way only: it is withdrawn. Ids count actions
 * and findings of the site in one row of numbers, from 1.
 */
import type { FailureMode, LubricantCondition, VisibleSign } from '../../shared/inspection-terms.js';
import type { ActionKind, BearingKind, Breaks } from '../../shared/maintenance-terms.js';
import type { MotorKey } from './facts.js';

/** Who took an entry back, when and why. */
export interface Withdrawal {
  readonly at: number;
  readonly by: string;
  readonly note: string;
}

interface Entry {
  readonly id: number;
  readonly motor: MotorKey;
  /** when it was done or seen; may lie long before `enteredAt` */
  readonly at: number;
  readonly enteredAt: number;
  readonly by: string;
  readonly note: string;
  /** null: it stands */
  withdrawn: Withdrawal | null;
}

/** Something done to a motor, its drive or its sensors. */
export interface MaintenanceAction extends Entry {
  readonly action: ActionKind;
  /** position of a sensor, or `both`; null: the whole motor */
  readonly end: string | null;
  /** what a bearing was replaced by; null: none was */
  readonly bearing: BearingKind | null;
  /** whose counts before it are no yardstick for those after it, as the contract said when it was entered */
  readonly breaks: Breaks;
}

/** What an inspection of one bearing found. Empty lists: not looked at, or not judged. */
export interface Finding extends Entry {
  readonly end: string;
  /** it was the bearing taken out at the last replacement, not the one that is in now */
  readonly removed: boolean;
  readonly modes: readonly FailureMode[];
  readonly signs: readonly VisibleSign[];
  readonly lubricant: readonly LubricantCondition[];
}
