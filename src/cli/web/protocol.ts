/**
 * What passes between the main thread and the thread of the HTTP interface. Everything here survives a structured clone. Times in
 * ms.
 */
import type { Access, HttpUser } from '../../api/access.js';
import type { CommissioningKeeper } from '../../api/commissioning-reader.js';
import type { AlarmWish, EntryAnswer, EntryWish, LiveNews, Metric, Standing } from '../../api/deps.js';
import type { BackfillOrder, SinkLedgerTable, SinkRow } from '../../api/forward-desk.js';
import type { NotifyStatus, NotifyTestRow } from '../../api/notify-desk.js';
import type { Contacts, PlcRow, StationFigures } from '../../api/station-reader.js';
import type { Config } from '../../config/config.js';
import type { ActAnswer } from '../../core/alarm-rows.js';
import type { Plan } from '../../core/plan.js';
import type { Fault } from './fault.js';

/** What a reload changes, all of it at once. */
export interface InForce {
  readonly config: Config;
  /** of the start: what is taken over only then goes by it, however often the file was read since */
  readonly started: Config;
  readonly plan: Plan;
  /** null: whoever is on this machine may do everything */
  readonly users: readonly HttpUser[] | null;
  /** by the gateway's clock */
  readonly since: number;
}

/** What the thread starts with. */
export interface WebSettings {
  readonly dataDir: string;
  readonly version: string;
  /** start of the gateway by its clock; a thread that was started again says the same */
  readonly startedAt: number;
  readonly host: string;
  /** 0: a free one */
  readonly port: number;
  /** its users are those of `inForce` */
  readonly access: Omit<Access, 'users'>;
  readonly inForce: InForce;
  /** what the gateway's clock adds to the machine's */
  readonly clockOffsetMs: number;
}

/** Figures that only the main thread has. */
export type MainFigures = Omit<StationFigures, 'startedAt' | 'perS1m' | 'perS10m'>;

/** What the thread asks of the main thread, with the type of the argument and of the answer. */
export interface Questions {
  standing: readonly [null, Standing];
  figures: readonly [null, MainFigures];
  /** of these topics */
  contacts: readonly [readonly string[], Omit<Contacts, 'logins'>];
  metrics: readonly [null, readonly Metric[]];
  notifyStatus: readonly [null, NotifyStatus];
  notifyTest: readonly [string, readonly NotifyTestRow[] | null];
  sinks: readonly [null, readonly SinkRow[]];
  sinkLedger: readonly [string, SinkLedgerTable];
  sinkRetry: readonly [string, number];
  sinkTest: readonly [string, string | null];
  sinkBackfill: readonly [{ readonly sink: string; readonly order: BackfillOrder }, number];
  plc: readonly [Pick<Config, 'modbus' | 'opcua'>, readonly PlcRow[]];
  operate: readonly [AlarmWish, readonly ActAnswer[]];
  maintain: readonly [EntryWish, EntryAnswer];
  keepRun: readonly [Parameters<CommissioningKeeper['keep']>, null];
  backup: readonly [string, { readonly bytes: number }];
  /** by whom */
  trustClock: readonly [string, null];
}

export type QuestionName = keyof Questions;

/** How the main thread answers. */
export type Answers = {
  readonly [Name in QuestionName]: (
    argument: Questions[Name][0],
  ) => Questions[Name][1] | Promise<Questions[Name][1]>;
};

export interface Ask {
  readonly kind: 'ask';
  readonly id: number;
  readonly name: QuestionName;
  readonly argument: unknown;
}

export type Answer =
  | { readonly kind: 'answer'; readonly id: number; readonly ok: true; readonly value: unknown }
  | { readonly kind: 'answer'; readonly id: number; readonly ok: false; readonly fault: Fault };

export type FromWeb =
  | Ask
  | { readonly kind: 'listening'; readonly port: number }
  /** it could not start, and has ended everything that it began */
  | { readonly kind: 'failed'; readonly fault: Fault }
  /** so many more news went to the readers */
  | { readonly kind: 'told'; readonly count: number }
  /** what is in force was taken over */
  | { readonly kind: 'taken'; readonly id: number }
  | { readonly kind: 'log'; readonly facts: object; readonly text: string }
  | { readonly kind: 'stopped' };

export type ToWeb =
  | Answer
  | { readonly kind: 'news'; readonly news: readonly LiveNews[] }
  | { readonly kind: 'take'; readonly id: number; readonly inForce: InForce }
  | { readonly kind: 'clock'; readonly offsetMs: number }
  | { readonly kind: 'stop' };
