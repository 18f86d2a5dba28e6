/**
 * What enters the core: facts with their time of arrival, and ticks. Nothing else moves the state.
 * All times are integer milliseconds since the Unix epoch, UTC. `null`: the message did not carry it.
 */

import type { FailureMode, LubricantCondition, VisibleSign } from '../../shared/inspection-terms.js';
import type { ActionKind, BearingKind, Breaks } from '../../shared/maintenance-terms.js';
import type { ActKind } from './alarm-inputs.js';
import type { Answer } from './needs.js';

/** `<motor>/<position>` */
export type SensorKey = string;
/** `<motor>` */
export type MotorKey = string;

export type RunState = 'stopped' | 'starting' | 'running' | 'stopping' | 'fault';

export interface ReadingFact {
  readonly kind: 'reading';
  readonly sensor: SensorKey;
  /** serial number; '' when the message has none */
  readonly device: string;
  readonly count: number;
  readonly at: number | null;
  readonly seq: number | null;
  readonly boot: number | null;
  readonly upMs: number | null;
  /** at the sensor, degrees Celsius */
  readonly temperatureC: number | null;
  readonly check: boolean;
  readonly receivedAt: number;
}

export interface DriveFact {
  readonly kind: 'drive';
  readonly motor: MotorKey;
  readonly state: RunState;
  readonly modulating: boolean;
  /** event time: `at` of the message, or its arrival when absent or in the future */
  readonly at: number | null;
  readonly since: number | null;
  readonly speedRpm: number | null;
  readonly loadPct: number | null;
  readonly switchingKhz: number | null;
  readonly dcLinkV: number | null;
  readonly receivedAt: number;
}

/** Presence of a drive's reporter (its message, will, or an unclean end of its session). */
export interface DrivePresenceFact {
  readonly kind: 'drive-presence';
  readonly motor: MotorKey;
  readonly online: boolean;
  readonly receivedAt: number;
}

export interface SensorPresenceFact {
  readonly kind: 'sensor-presence';
  readonly sensor: SensorKey;
  readonly online: boolean;
  readonly device: string;
  readonly receivedAt: number;
}

/** Progress of the gateway's clock. Ticks never go back: an earlier one is taken as the latest seen. */
export interface TickFact {
  readonly kind: 'tick';
  readonly now: number;
}

/** What a person does to an alarm. `until`: ms. */
export type AlarmAct =
  | { readonly do: Exclude<ActKind, 'shelve'> }
  | { readonly do: 'shelve'; readonly until: number; readonly once: boolean };

/** A person acts on an alarm. The core answers in `Outputs.answers`. */
export interface OperateFact {
  readonly kind: 'operate';
  readonly alarm: string;
  readonly act: AlarmAct;
  readonly who: string;
  readonly note: string;
  /** the same in one sentence, for the journal; empty: the note says it all */
  readonly says: string;
  readonly receivedAt: number;
}

/** A person enters what was done to a motor. The shell has checked motor, end and time. */
export interface ActionFact {
  readonly kind: 'action';
  readonly motor: MotorKey;
  readonly action: ActionKind;
  /** position of a sensor, or `both`; null: the whole motor */
  readonly end: string | null;
  readonly bearing: BearingKind | null;
  /** whose counts before it are no yardstick for those after it, by the table of the contract */
  readonly breaks: Breaks;
  /** when it was done; may lie long before `receivedAt` */
  readonly at: number;
  readonly by: string;
  readonly note: string;
  /** the same in one sentence, for the journal */
  readonly says: string;
  readonly receivedAt: number;
}

/** A person enters what an inspection of one bearing found. The shell has checked motor, end and time. */
export interface FindingFact {
  readonly kind: 'finding';
  readonly motor: MotorKey;
  readonly end: string;
  /** it was the bearing taken out at the last replacement, not the one that is in now */
  readonly removed: boolean;
  readonly modes: readonly FailureMode[];
  readonly signs: readonly VisibleSign[];
  readonly lubricant: readonly LubricantCondition[];
  readonly at: number;
  readonly by: string;
  readonly note: string;
  readonly says: string;
  readonly receivedAt: number;
}

/** A person takes back an action or a finding of a motor. */
export interface WithdrawFact {
  readonly kind: 'withdraw';
  readonly of: 'action' | 'finding';
  readonly motor: MotorKey;
  readonly id: number;
  readonly by: string;
  readonly note: string;
  readonly receivedAt: number;
}

/** A person begins or ends a function check of a sensor; `receivedAt` is when. The shell has checked who may. */
export interface CheckFact {
  readonly kind: 'check';
  readonly sensor: SensorKey;
  readonly act: 'begin' | 'end';
  readonly who: string;
  readonly receivedAt: number;
}

/** How a sink stands, as far as its receiver is concerned. */
export interface SinkStanding {
  /** its name in the configuration */
  readonly sink: string;
  /** for how long new records have waited, ms; 0: none waits */
  readonly lagMs: number;
  /** the receiver takes what it is sent, or there is nothing for it; false also while nothing is known */
  readonly isTaking: boolean;
  /** records that wait for it, new ones and those behind them */
  readonly waiting: number;
  /** what it said last of why it takes nothing; '': nothing */
  readonly lastError: string;
  /** from when on the outbox would give records up if it goes on so, ms; null: that is not in sight */
  readonly losesAt: number | null;
}

/** How the sinks stand. Comes behind a tick. */
export interface ForwardingFact {
  readonly kind: 'forwarding';
  readonly sinks: readonly SinkStanding[];
}

/** The shell answers a need (see needs.ts). */
export interface StoredFact {
  readonly kind: 'stored';
  readonly answer: Answer;
}

export type Fact =
  | ReadingFact
  | DriveFact
  | DrivePresenceFact
  | SensorPresenceFact
  | TickFact
  | OperateFact
  | ActionFact
  | FindingFact
  | WithdrawFact
  | CheckFact
  | ForwardingFact
  | StoredFact;
