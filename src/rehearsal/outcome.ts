/** What a rehearsal answers. Times in ms; everything here survives a structured clone. */
import type { Tally } from './activation.js';
import type { AlarmChange, SettingChange } from './candidate.js';

/** Why the journal says another thing than the running configuration played over the same past. */
export type DifferenceReason = 'live-knew-later' | 'another-configuration' | 'unexplained';

/** One activation in which journal and rehearsal of the running configuration differ. */
export interface JournalDifference {
  readonly what: 'only-in-journal' | 'only-rehearsed' | 'another-return';
  readonly from: number;
  /** in the journal and rehearsed; null: it stands, or is not there */
  readonly journalTo: number | null;
  readonly rehearsedTo: number | null;
  readonly reason: DifferenceReason;
  readonly says: string;
}

/** Whether something stood while an event went on. */
export interface Catch {
  /** the alarm that stood; null: none, the event is missed */
  readonly by: string | null;
  /** it was raised so long after the event began; negative: before; null: missed */
  readonly delayMs: number | null;
}

/** Something that a person vouched for: an alarm that was acknowledged or confirmed, or what an inspection found. */
export interface ConfirmedEvent {
  readonly what: 'acknowledged' | 'confirmed' | 'finding';
  /** the alarm of the journal; null: a finding */
  readonly alarm: string | null;
  readonly sensor: string;
  /** from when to when an alarm would have caught it */
  readonly from: number;
  readonly to: number;
  readonly who: string;
  readonly says: string;
  readonly running: Catch;
  readonly candidate: Catch;
}

export interface AlarmOutcome {
  readonly id: string;
  readonly motor: string;
  readonly sensor: string | null;
  readonly kind: string;
  /** asks nothing of the operator */
  readonly notice: boolean;
  /** why it could not be rehearsed; '': it was */
  readonly notRehearsed: string;
  /** what the candidate changes of it; null: nothing */
  readonly change: AlarmChange | null;
  /** null: not in that configuration, or not rehearsed */
  readonly candidate: Tally | null;
  readonly running: Tally | null;
  readonly journal: Tally;
  /** between candidate and running, of what was rehearsed */
  readonly differs: boolean;
  /** of the events that this alarm raised: how many, and how many the candidate would have missed */
  readonly events: number;
  readonly missed: number;
  readonly journalDifferences: readonly JournalDifference[];
  readonly conclusion: string;
}

export interface Rehearsal {
  readonly from: number;
  readonly to: number;
  /** start of what was played before `from`, and of its minutes: before those only baselines were learnt */
  readonly warmUpFrom: number;
  readonly minutesFrom: number;
  /** revisions */
  readonly running: string;
  readonly candidate: string;
  readonly baseline: readonly SettingChange[];
  /** what the reader must know before the figures */
  readonly notes: readonly string[];
  /** in order of their ids */
  readonly alarms: readonly AlarmOutcome[];
  /** in order of time */
  readonly events: readonly ConfirmedEvent[];
  readonly conclusion: string;
}
