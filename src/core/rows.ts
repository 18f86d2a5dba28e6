/**
 * What leaves the core to be stored: the rows of the ledger and of everything derived from it.
 * The shell writes one step's outputs in one transaction, in the order of the fields of `Outputs`.
 */
import type { Finding, MaintenanceAction } from './maintenance-rows.js';
import type { ActAnswer, AlarmRecord, JournalEntry } from './alarm-rows.js';
import type { MotorKey, RunState, SensorKey } from './facts.js';
import type { Need } from './needs.js';
import type { RateCounts } from './rate.js';
import type { RollupAdd, Spread, WindowIssued, WindowRevised } from './sum-rows.js';
import type { Class, Reason } from './words.js';

export type { BinSum, RollupAdd, Spread, Sums, WindowIssued, WindowRevised } from './sum-rows.js';

/**
 * One reading, and the increment that ends at it: `[from, to)`, `pulses`, whole in one class.
 * Key: (sensor, to, chain, seq ?? -1). Mutable inside the core only.
 */
export interface Increment {
  sensor: SensorKey;
  /** event time of the reading */
  to: number;
  /** start of the increment; equals `to` for an anchor */
  from: number;
  /** the counter it belongs to, see `Chain.id` */
  chain: number;
  /** place in the chain: `seq` when the reading has one, else null */
  seq: number | null;
  count: number;
  upMs: number | null;
  pulses: number;
  class: Class;
  reason: Reason;
  flags: number;
  /** temperature that the reading carried, tenths of a degree Celsius; null: none */
  temperature: number | null;
  /** name of its condition bin; '': it is not running, or its duty group has no axes (then its bin is `all`) */
  bin: string;
  /** true once a step has put it out; the shell inserts on false, updates on true. Not stored. */
  stored: boolean;
  /** number of the step that put it out last; not stored */
  putIn?: number;
}

/** One counter: (sensor, device, boot). `boot` null: the device does not say. Ids are per site, given by the core. */
export interface Chain {
  id: number;
  sensor: SensorKey;
  device: string;
  boot: number | null;
}

/**
 * An unbroken run of one counter, recorded on its own for the balance: last − first (unwrapped) must equal the sum
 * of the increments between. Key: (sensor, chain, startTo, startSeq).
 * `unknownReason` '' : nothing unknowable lies before it.
 */
export interface Segment {
  sensor: SensorKey;
  chain: number;
  startTo: number;
  startSeq: number;
  firstCount: number;
  lastTo: number;
  lastSeq: number;
  lastCount: number;
  wraps: number;
  modulus: number;
  openedBy: 'first' | 'device' | 'boot' | 'restart' | 'fall' | 'width' | 'clock';
  /** what lies unknowable before it: from, to, least and most pulses (null: no bound) */
  unknownReason: string;
  unknownFrom: number;
  unknownTo: number;
  unknownLow: number;
  unknownHigh: number | null;
}

/** A drive message as it was taken. `at` is effective. Key: (motor, at); an equal `at` replaces. */
export interface DriveRow {
  motor: MotorKey;
  at: number;
  since: number | null;
  state: RunState;
  modulating: boolean;
  speedRpm: number | null;
  loadPct: number | null;
  switchingKhz: number | null;
  dcLinkV: number | null;
  receivedAt: number;
}

/** Presence of a drive's reporter. Key: (motor, at). */
export interface PresenceRow {
  motor: MotorKey;
  at: number;
  online: boolean;
}

/** A start, a stop, or a merged run of them, guards included. Key: (motor, from). */
export interface Transient {
  motor: MotorKey;
  from: number;
  to: number;
  edges: number;
  kind: 'start' | 'stop' | 'start-stop' | 'other';
  /** whole transient increments of each sensor that overlap it */
  counts: { sensor: SensorKey; pulses: number; ms: number }[];
}

/** An increment of a bursting window: what a sensor tells its zone. Key: (sensor, from, to). `window`: start of the base window. */
export interface Burst {
  zone: string;
  motor: MotorKey;
  sensor: SensorKey;
  window: number;
  from: number;
  to: number;
}

/** A stretch of base windows [from, to) in which a sensor had a vote on common bursts. Key: (sensor, from). */
export interface Vote {
  zone: string;
  motor: MotorKey;
  sensor: SensorKey;
  from: number;
  to: number;
}

/** Something worth telling a controls engineer, counted per sensor or motor and kind. */
export interface Diagnostic {
  subject: string;
  kind: string;
  at: number;
  detail: string;
}

/** The retained `rate` message: the last final base window and the trailing 10 min of running exposure. */
export interface RateNow {
  sensor: SensorKey;
  window: Omit<WindowIssued, 'bins'>;
  from: number;
  to: number;
  pulses: number;
  exposureMs: number;
  ratePerMin: number | null;
  lowerPerMin: number | null;
  upperPerMin: number | null;
  dispersion: number;
  quality: 'good' | 'uncertain' | 'bad';
}

/** A named piece of the core's state that has no row of its own. `version` guards its shape. */
export interface CheckpointRow {
  key: string;
  version: number;
  json: string;
}

export interface Outputs {
  chains: Chain[];
  /** keys of increments that were merged away; deleted before `increments` are written */
  removedIncrements: Pick<Increment, 'sensor' | 'to' | 'chain' | 'seq'>[];
  increments: Increment[];
  removedSegments: Pick<Segment, 'sensor' | 'chain' | 'startTo' | 'startSeq'>[];
  segments: Segment[];
  drives: DriveRow[];
  presences: PresenceRow[];
  windows: WindowIssued[];
  windowsRevised: WindowRevised[];
  rollups: RollupAdd[];
  /** all spreads of an hour; deleted before `spreads` are written */
  removedSpreads: Pick<Spread, 'sensor' | 'hour'>[];
  spreads: Spread[];
  removedTransients: Pick<Transient, 'motor' | 'from'>[];
  transients: Transient[];
  removedBursts: Pick<Burst, 'sensor' | 'from' | 'to'>[];
  bursts: Burst[];
  removedVotes: Pick<Vote, 'sensor' | 'from'>[];
  votes: Vote[];
  alarms: AlarmRecord[];
  actions: MaintenanceAction[];
  findings: Finding[];
  journal: JournalEntry[];
  /** a flood of alarms began (`since`, ms) or ended (null); null: neither. Not stored by itself */
  flood: { since: number | null } | null;
  diagnostics: Diagnostic[];
  checkpoints: CheckpointRow[];
  /** not stored: for live subscribers, see `rateOf` */
  rates: RateCounts[];
  /** not stored: to people who acted on alarms, in the order of their facts */
  answers: ActAnswer[];
  /** the shell applies all of the above, then answers these with `stored` facts, until there are none */
  needs: Need[];
}
