/**
 * What the HTTP interface needs from the rest of the gateway, handed in by whoever wires the rooms.
 * Every read answers with a promise, so that a slow query may run on another thread and stall nobody.
 * Times are milliseconds since the epoch, UTC.
 */
import type { AlarmChange } from '../../shared/alarm-change.js';
import type { ActionRequest, FindingRequest } from '../../shared/maintenance.js';
import type { AlarmAct, MotorKey, SensorKey } from '../core/facts.js';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import type { Plan } from '../core/plan.js';
import type { ActAnswer, AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { BinSum, DriveRow, PresenceRow, RateNow, Sums, Transient } from '../core/rows.js';
import type { AdviceReader } from './advice-reader.js';
import type { CommissioningKeeper, CommissioningReader } from './commissioning-reader.js';
import type { StationReader, WiringReader } from './station-reader.js';
import type { ForwardDesk } from './forward-desk.js';
import type { ChartsReader } from './charts-reader.js';
import type { NotifyDesk } from './notify-desk.js';
import type { DayStrip } from '../core/day-strip.js';
import type { CountQuery, TimedCount } from '../core/timed-count.js';
import type { RehearsalJob } from '../rehearsal/desk.js';
import type { Period } from '../core/words.js';
import type { JournalReader } from './journal-reader.js';

/** One page of rows. `next`: opaque place after the last row; null: nothing follows. */
export interface Page<T> {
  readonly items: readonly T[];
  readonly next: string | null;
}

/** What most queries have in common. `from` inclusive, `to` exclusive; null: unbounded. */
export interface PageQuery {
  readonly from: number | null;
  readonly to: number | null;
  readonly limit: number;
  readonly cursor: string | null;
}

/** Of what is numbered as it is written. */
export interface OrderedQuery extends PageQuery {
  readonly order: 'oldest' | 'newest';
}

export interface RollupRow extends Sums {
  readonly sensor: SensorKey;
  readonly period: Period;
  readonly start: number;
  readonly revision: number;
  /** running sums by condition bin; empty: one bin, `all` */
  readonly bins: readonly BinSum[];
}

/** Last known of a sensor. `device` null: no reading yet. */
export interface SensorRow {
  readonly sensor: SensorKey;
  readonly device: string | null;
  readonly lastReadingAt: number | null;
}

export interface DiagnosticRow {
  readonly subject: string;
  readonly kind: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
  readonly detail: string;
}

export interface QuarantineRow {
  readonly at: number;
  readonly reason: string;
  readonly topic: string;
  readonly client: string;
  readonly size: number;
  readonly firstBytes: Uint8Array;
}

export interface UnknownRow {
  readonly reason: string;
  readonly from: number;
  readonly to: number;
  readonly least: number;
  readonly most: number | null;
}

export interface LedgerRow {
  readonly sensor: SensorKey;
  readonly balanced: boolean;
  /** last − first over the segments, unwrapped */
  readonly counted: number;
  /** sum over the seven classes, and what is not classified yet */
  readonly classified: number;
  readonly pending: number;
  readonly pulses: readonly number[];
  readonly ms: readonly number[];
  readonly unknown: readonly UnknownRow[];
}

export type EntryRefusal =
  'unknown-motor' | 'unknown-place' | 'in-the-future' | 'no-such-entry' | 'withdrawn-already';

export type EntryAnswer =
  | { readonly ok: true; readonly row: MaintenanceAction | Finding }
  | { readonly ok: false; readonly reason: EntryRefusal };

/** What a person does with the entries about a motor. */
export type EntryWish =
  | { readonly do: 'enter-action'; readonly motor: MotorKey; readonly entry: ActionRequest }
  | { readonly do: 'enter-finding'; readonly motor: MotorKey; readonly entry: FindingRequest }
  | {
      readonly do: 'withdraw';
      readonly of: 'action' | 'finding';
      readonly motor: MotorKey;
      readonly id: number;
      readonly by: string;
      readonly note: string;
    };

/** The life of one bearing, see the contract's `bearing-life`. */
export interface BearingLife {
  readonly fittedAt: number | null;
  readonly replacement: MaintenanceAction | null;
  readonly removedAt: number | null;
  readonly counted: { readonly from: number; readonly to: number } | null;
  readonly runningMs: number;
  readonly runningPulses: number;
  readonly transientPulses: number;
  readonly actions: readonly MaintenanceAction[];
  readonly findings: readonly Finding[];
}

/** Each rejects with `code` and `hint`; `code` is `cursor` where the cursor is not one of its own. */
export interface ApiReader extends JournalReader, WiringReader, CommissioningReader {
  /** last known of every configured sensor that has any */
  sensors(): Promise<readonly SensorRow[]>;
  /** the drive message in force of every motor that has one; the answer's `since` may be null */
  drives(): Promise<readonly LastDrive[]>;
  /** the newest transient of every motor that has one */
  lastTransients(): Promise<readonly Transient[]>;
  rollups(query: PageQuery & { sensor: SensorKey | null; period: Period }): Promise<Page<RollupRow>>;
  transients(query: PageQuery & { motor: MotorKey | null }): Promise<Page<Transient>>;
  /** the bearings of one end, newest first, at least one */
  bearingLives(query: { motor: MotorKey; position: string }): Promise<readonly BearingLife[]>;
  count(query: CountQuery): Promise<TimedCount>;
  /** the day that begins at `from`, of every sensor that was ever heard */
  strips(from: number): Promise<readonly DayStrip[]>;
  /** in order of the time they are about; withdrawn ones too */
  actions(query: PageQuery & { motor: MotorKey | null }): Promise<Page<MaintenanceAction>>;
  findings(query: PageQuery & { motor: MotorKey | null }): Promise<Page<Finding>>;
  alarms(): Promise<readonly AlarmRecord[]>;
  ledger(query: {
    sensor: SensorKey | null;
    from: number | null;
    to: number | null;
  }): Promise<readonly LedgerRow[]>;
  diagnostics(): Promise<readonly DiagnosticRow[]>;
  quarantine(query: OrderedQuery): Promise<Page<QuarantineRow>>;
}

/** The last message of a drive, and when after it its reporter went absent; null: it has not. */
export type LastDrive = DriveRow & { readonly absentFrom: number | null };

/** What the live stream carries, after the commit that made it durable. */
export type LiveEvent =
  | { readonly kind: 'rate'; readonly rate: RateNow }
  | { readonly kind: 'alarm'; readonly alarm: AlarmRecord }
  | { readonly kind: 'drive'; readonly drive: DriveRow }
  | { readonly kind: 'drive-presence'; readonly presence: PresenceRow }
  | { readonly kind: 'transient'; readonly transient: Transient }
  /** `id`: its number in the store; null: not known */
  | { readonly kind: 'journal'; readonly entry: JournalEntry; readonly id: number | null };

/** An event, or that some were lost on their way here: nobody knows which. */
export type LiveNews = LiveEvent | { readonly kind: 'gap' };

/** One figure of `/metrics`. Names without the `tallypost_` in front and without the `_total` behind. */
export interface Metric {
  readonly name: string;
  readonly type: 'counter' | 'gauge';
  readonly help: string;
  readonly unit?: string;
  readonly values: readonly { readonly labels?: Readonly<Record<string, string>>; readonly value: number }[];
}

/** What a person does to alarms. */
export interface AlarmWish {
  readonly alarms: readonly string[];
  readonly act: AlarmAct;
  readonly who: string;
  readonly note: string;
}

/** What `begin` of a rehearsal answers. `problems`: of the candidate, one sentence each. */
export type BeginAnswer =
  | { readonly ok: true; readonly job: RehearsalJob }
  | { readonly ok: false; readonly reason: 'busy'; readonly running: string }
  | { readonly ok: false; readonly reason: 'invalid' | 'refused'; readonly problems: readonly string[] };

/** Rehearsals of this gateway. Null: there is none of that number. */
export interface Rehearsals {
  /** `text`: of the candidate's file; null times: as the rehearsal chooses */
  begin(wish: {
    readonly text: string;
    readonly from: number | null;
    readonly to: number | null;
  }): Promise<BeginAnswer>;
  /** text of the configuration file as it lies on the disk, to begin a candidate with; null: it cannot be read */
  readFile(): Promise<string | null>;
  /** the text of a file with changes written into it; `problems`: why they could not be, one sentence each */
  change(
    text: string,
    changes: readonly AlarmChange[],
  ): Promise<
    | { readonly ok: true; readonly text: string }
    | { readonly ok: false; readonly problems: readonly string[] }
  >;
  /** newest first */
  list(): readonly RehearsalJob[];
  find(id: string): RehearsalJob | null;
  cancel(id: string): RehearsalJob | null;
}

/** How the gateway itself stands at one moment. */
export interface Standing {
  /** since when alarms flood, ms; null: they do not */
  readonly floodSince: number | null;
  /** alarms of the gateway itself that stand now: the store has none of them */
  readonly ownAlarms: readonly AlarmRecord[];
  /** reasons why it moves no data; empty: ready */
  readonly unreadyReasons: readonly string[];
}

export interface ApiDeps {
  readonly version: string;
  /** IANA zone of the site, for the page */
  readonly timeZone: string;
  /** the running plan; a reload changes it */
  plan(): Plan;
  readonly reader: ApiReader;
  readonly advice: AdviceReader;
  readonly charts: ChartsReader;
  /** rejects with code `no-answer` when the thread that knows does not answer in time */
  standing(): Promise<Standing>;
  readonly rehearsals: Rehearsals;
  readonly notify: NotifyDesk;
  /** the gateway as it stands */
  readonly station: StationReader;
  readonly commissioning: CommissioningKeeper;
  readonly forward: ForwardDesk;
  /** returns the function that ends the subscription */
  subscribeLive(listener: (news: LiveNews) => void): () => void;
  /** one answer for each alarm, in their order; all in one transaction */
  operate(wish: AlarmWish): Promise<readonly ActAnswer[]>;
  maintain(wish: EntryWish): Promise<EntryAnswer>;
  /** writes a consistent copy of the store to a new file; rejects with `code` and `hint` on failure */
  backup(path: string): Promise<{ bytes: number }>;
  /** a person lets the gateway go on with its clock as it is; rejects with `code` and `hint` when it still cannot */
  trustClock(who: string): Promise<void>;
  metrics(): Promise<readonly Metric[]>;
  /** the gateway's clock, ms */
  now(): number;
  /** a request failed by a fault of ours */
  logFault(error: unknown, requestId: string): void;
}
