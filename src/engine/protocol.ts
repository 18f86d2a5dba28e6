/** What the main thread and the engine say to one another. Everything here survives a structured clone. */
import type { Plan } from '../core/plan.js';
import type { Retention } from '../store/retention.js';
import type { MaintenanceCall } from './maintenance-calls.js';
import type { AlarmCall } from './alarm-calls.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { SinkStanding } from '../core/facts.js';
import type { DriveRow, PresenceRow, RateNow, Transient } from '../core/rows.js';

/** A batch of frames, see `frame-reader.ts`. */
export interface FrameBatch {
  readonly id: number;
  readonly buffer: ArrayBuffer;
  readonly length: number;
  readonly count: number;
  readonly names: readonly string[];
  readonly resetNames: boolean;
}

export type Call =
  | AlarmCall
  | MaintenanceCall
  | { readonly do: 'reload'; readonly plan: Plan; readonly note: string }
  | { readonly do: 'note'; readonly text: string }
  | KeepCall
  | { readonly do: 'backup'; readonly path: string }
  | { readonly do: 'trust-clock'; readonly who: string }
  | { readonly do: 'stop' };

/** A record that a room of the main thread goes on from after a restart, and sentences for the journal, in one transaction. */
export interface KeptRecord {
  readonly key: 'notify' | `commissioning/${number}`;
  /** null: the record stays as it is */
  readonly json: string | null;
  /** of the gateway itself */
  readonly notes: readonly string[];
  /** of a person, about a motor; absent: none */
  readonly entries?: readonly { readonly subject: string; readonly who: string; readonly text: string }[];
  /** function checks that begin or end with it, in this order; absent: none */
  readonly checks?: readonly {
    readonly sensor: string;
    readonly act: 'begin' | 'end';
    readonly who: string;
  }[];
}

export type KeepCall = { readonly do: 'keep' } & KeptRecord;

export type ToEngine =
  | { readonly kind: 'batch'; readonly batch: FrameBatch }
  | { readonly kind: 'interest'; readonly outbound: boolean }
  | { readonly kind: 'forwarded'; readonly done: ReadonlyMap<number, number> }
  | { readonly kind: 'sinks'; readonly sinks: readonly SinkStanding[] }
  | { readonly kind: 'call'; readonly id: number; readonly call: Call };

export interface OutMessage {
  readonly topic: string;
  readonly payload: string;
  readonly retain: boolean;
}

export interface RetainedMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
}

/** What became durable with a commit, for live readers. */
export interface Told {
  readonly publications: readonly OutMessage[];
  readonly rates: readonly RateNow[];
  readonly alarms: readonly AlarmRecord[];
  readonly drives: readonly DriveRow[];
  /** of the reporters of drives */
  readonly presences: readonly PresenceRow[];
  readonly transients: readonly Transient[];
  readonly journal: readonly JournalEntry[];
  /** their numbers in the store, in the same order; null: not known */
  readonly journalIds: readonly (number | null)[];
  /** the tick of this commit; null: it had none */
  readonly tick: number | null;
  /** a flood of alarms began or ended; null: neither */
  readonly flood: { readonly since: number | null } | null;
}

export interface EngineFigures {
  readonly batches: number;
  readonly messages: number;
  readonly refused: number;
  readonly refusedNotKept: number;
  readonly failures: number;
  readonly lastCommitAt: number;
  /** processor time of the engine from batch to answer, ms, summed */
  readonly busyMs: number;
  /** how far most devices disagree with the clock that a person lets pass; null: they do not */
  readonly clockDoubt: string | null;
}

export interface CallFault {
  readonly message: string;
  readonly code: string;
  readonly hint: string;
}

/** Alarms of a gateway that can store nothing; the contract has the same list. */
export type HaltCause = 'storage-full' | 'storage-failed' | 'clock-wrong';

export type FromEngine =
  /**
   * it can commit; `retained`: what subscribers are to find; `clockOffsetMs`: what a person has it add to the wall clock
   */
  | {
      readonly kind: 'ready';
      readonly retained: readonly RetainedMessage[];
      readonly alarms: readonly OutMessage[];
      readonly clockOffsetMs: number;
      /** since when alarms flood; null: they do not */
      readonly floodSince: number | null;
    }
  /** it cannot; nothing handed in since the last `done` is stored */
  | {
      readonly kind: 'halted';
      readonly reason: string;
      readonly alarm: OutMessage;
      readonly record: AlarmRecord;
    }
  | {
      readonly kind: 'done';
      readonly id: number;
      readonly rejected: readonly number[];
      readonly buffer: ArrayBuffer;
      readonly told: Told | null;
    }
  | { readonly kind: 'told'; readonly told: Told }
  | {
      readonly kind: 'answer';
      readonly id: number;
      readonly fault: CallFault | null;
      readonly value: unknown;
    }
  | {
      readonly kind: 'notice';
      readonly level: 'info' | 'warn' | 'error';
      readonly facts: object;
      readonly text: string;
    }
  | { readonly kind: 'figures'; readonly figures: EngineFigures };

/** What an engine is started with; survives a structured clone. */
export interface EngineSettings {
  readonly dataDir: string;
  readonly plan: Plan;
  readonly minCommitIntervalMs: number;
  readonly storage: StorageSettings;
  /** whether what changes is entered for sinks; absent: that is left as it is, by one who opens the store for a moment */
  readonly forwards?: boolean;
}

export interface StorageSettings {
  readonly walBytesMax: number;
  readonly retention: Retention;
}
