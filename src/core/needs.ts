/**
 * What the core asks the store for, and what the shell answers. Every answer must include the outputs of the steps
 * before it, those of the open transaction too.
 */
import type { Finding, MaintenanceAction } from './maintenance-rows.js';
import type { MotorKey, SensorKey } from './facts.js';
import type { AlarmRecord } from './alarm-rows.js';
import type { Minute } from './periods.js';
import type {
  Burst,
  Chain,
  DriveRow,
  Increment,
  PresenceRow,
  Segment,
  Spread,
  Transient,
  Vote,
} from './rows.js';

export interface Need {
  readonly id: number;
  /** increments of a sensor with `fromTo <= to < toTo`, ordered by (to, chain, seq) */
  readonly increments: { sensor: SensorKey; fromTo: number; toTo: number } | null;
  /**
   * the neighbours in one chain: rows of the chain at and around a place. By `seq` when `bySeq`, else by `to`;
   * `least`..`most` inclusive, widened by 4 rows before and 4 after
   */
  readonly neighbours: {
    sensor: SensorKey;
    chain: number;
    bySeq: boolean;
    least: number;
    most: number;
  } | null;
  /**
   * drive messages with `from <= at < to`, the last before `from`, and what came up to `lookBackMs` before that one (absent:
   * nothing); presences over the same time, and the last before
   */
  readonly drives: { motors: MotorKey[]; from: number; to: number; lookBackMs?: number } | null;
  /** bursts of the zone that overlap [from, to), and votes that overlap it */
  readonly zone: { zone: string; from: number; to: number } | null;
  /** segments of a chain */
  readonly segments: { sensor: SensorKey; chain: number } | null;
  /** transients of a motor that overlap [from, to) */
  readonly transients: { motor: MotorKey; from: number; to: number } | null;
}

export interface Answer {
  readonly need: Need;
  readonly increments: Increment[];
  /** in chain order (by seq, or by to) */
  readonly neighbours: Increment[];
  readonly drives: DriveRow[];
  readonly presences: PresenceRow[];
  readonly bursts: Burst[];
  readonly votes: Vote[];
  readonly segments: Segment[];
  readonly transients: Transient[];
}

/** What the store gives back at start; `rows` reach back as far as `restore` asks (see `restoreReach`). */
export interface Restored {
  checkpoints: { key: string; version: number; json: string }[];
  chains: Chain[];
  /** all segments of chains whose last reading is inside the horizon */
  segments: Segment[];
  /**
   * per sensor, ordered by (to, chain, seq): all with `to` >= newest `to` of the sensor − reachMs, and the last 80 at least.
   * Asked for sensor by sensor, once each, before anything is written: those of a whole fleet would fill the memory.
   */
  increments: { get(sensor: SensorKey): Increment[] | undefined };
  /**
   * From the rollups: closed minutes of a sensor with running exposure that start before `before`, the newest `most` of them, in
   * order. Asked for as the increments are, and only where those do not hold minutes enough.
   */
  minutes: { before(sensor: SensorKey, before: number, most: number): Minute[] };
  /** per motor, from (newest at − reachMs), and the last before */
  drives: Map<MotorKey, DriveRow[]>;
  presences: Map<MotorKey, PresenceRow[]>;
  bursts: Burst[];
  votes: Vote[];
  spreads: Spread[];
  transients: Transient[];
  alarms: AlarmRecord[];
  /** all that were ever entered, withdrawn ones too */
  actions: MaintenanceAction[];
  findings: Finding[];
}
