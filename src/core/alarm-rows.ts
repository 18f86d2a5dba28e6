/** The alarm's record, what its transitions rest on, and the entries of the journal. */
import type { AlarmStateName, HeldBy, JournalChange } from '../../shared/alarm-terms.js';
import type { AlarmRefusal } from './alarm-refusals.js';
import type { MotorKey, RunState, SensorKey } from './facts.js';
import type { ReturnBlock } from './return-window.js';

export type AlarmState = AlarmStateName;

/** One alarm's whole record. Condition, acknowledgement and suppression are stored apart; `state` is derived. */
export interface AlarmRecord {
  /** `<motor>.<alarm>`, e.g. `booster-4.de-rate-high` */
  id: string;
  motor: MotorKey;
  /** topic level, e.g. `de-rate-high` */
  alarm: string;
  sensor: SensorKey | null;
  kind: string;
  priority: 'low' | 'medium' | 'high';
  active: boolean;
  acknowledged: boolean;
  latched: boolean;
  /** who acknowledged the activation; '': nobody has, or there was nothing to */
  acknowledgedBy: string;
  /** of the last act of a person */
  note: string;
  /** the corrective action that it asked for was taken; true while none is asked for */
  confirmed: boolean;
  confirmedBy: string;
  /** when the shelf ends, whatever happens; null: not shelved */
  shelvedUntil: number | null;
  /** the shelf ends with the next return, if that comes first */
  shelvedOnce: boolean;
  shelvedBy: string;
  shelvedWhy: string;
  /** which rule of the design hides it, in words; null: none */
  suppressedBy: string | null;
  outOfService: boolean;
  outOfServiceBy: string;
  outOfServiceWhy: string;
  /** why nothing can be said of the condition just now, so that it neither is raised nor returns; null: it is looked at */
  heldBy: HeldBy | null;
  /** id of the alarm that stands for this one and its like; null: it speaks for itself */
  groupedUnder: string | null;
  /** when this activation was announced to the operator; null: it was not (hidden, grouped, or known only afterwards) */
  annunciatedAt: number | null;
  state: AlarmState;
  /** event time of the last change of `active`; null: never */
  since: number | null;
  /** timers, in ms of running exposure (or of time, for alarms on time) */
  onMs: number;
  offMs: number;
  /** start of the growing return window (a minute), with its running pulses and exposure; null: none is open */
  returnFrom: number | null;
  returnPulses: number;
  returnMs: number;
  /** rate alarms: dispersion that the raise was judged by */
  raisedDispersion?: number;
  /** the same in blocks, for every newest part of it, by condition bin for deviation alarms; absent: none is open */
  returnBlocks?: ReturnBlock[];
  evidence: Evidence | null;
}

/** What an alarm was decided on, frozen. Rates in pulses per minute of running exposure. */
export interface Evidence {
  from: number;
  to: number;
  pulses: number;
  exposureMs: number;
  ratePerMin: number | null;
  lowerPerMin: number | null;
  upperPerMin: number | null;
  /** of the counts, and of the limits, two-sided; null: nothing was compared */
  dispersion: number | null;
  confidence: number | null;
  setpointPerMin: number | null;
  deadbandPerMin: number | null;
  onDelayMs: number;
  offDelayMs: number;
  /** run-state strip over the window */
  strip: { from: number; to: number; state: RunState | 'unknown'; modulating: boolean }[];
  configuration: string;
  /** one sentence in plain words */
  says: string;
}

export interface JournalEntry {
  /** time of occurrence and of detection */
  at: number;
  detectedAt: number;
  kind: 'alarm' | 'operator' | 'notice' | 'configuration' | 'gateway';
  subject: string;
  from: string;
  to: string;
  who: string;
  text: string;
  what: JournalChange;
  /** whether the operator was told of it: not of what was hidden, grouped, or over before it was known */
  annunciated: boolean;
  /** revision of the configuration in force */
  configuration: string;
  evidence: Evidence | null;
}

/** What came of a person's act on an alarm. `record`: as it stands after it; null: there is no such alarm. */
export interface ActAnswer {
  readonly alarm: string;
  readonly refusal: AlarmRefusal | null;
  readonly record: AlarmRecord | null;
}
