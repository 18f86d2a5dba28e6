/**
 * What every sink is, seen from the forwarder: it takes batches of records and says what became of them. A sink knows no
 * outbox, no cursor and no ledger; the forwarder knows no protocol.
 */
import type { AdviceRow } from '../../shared/write-messages.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { Transient } from '../core/rows.js';
import type { RollupRow } from '../store/rollup-row.js';

export const STREAMS = ['rollups', 'transients', 'alarms', 'journal', 'manifests'] as const;
export type Stream = (typeof STREAMS)[number];

/** What a day of one sensor and period holds, for a receiver to prove that nothing is missing. Days are those of UTC. */
export interface Manifest {
  readonly sensor: string;
  readonly period: '1m' | '10m' | '1h';
  /** midnight UTC, ms since the epoch */
  readonly day: number;
  readonly rows: number;
  /** all seven classes */
  readonly pulses: number;
  /** all seven classes, milliseconds */
  readonly ms: number;
  readonly highestRevision: number;
}

/** The content of a record by stream. `row` null: the store holds it no more, a receiver marks its copy as withdrawn. */
export type Content =
  | { readonly stream: 'rollups'; readonly row: RollupRow }
  | { readonly stream: 'transients'; readonly row: Transient | null }
  | { readonly stream: 'alarms'; readonly row: AlarmRecord }
  | { readonly stream: 'journal'; readonly row: JournalEntry }
  | { readonly stream: 'manifests'; readonly row: Manifest };

/** One record on its way out. (`content.stream`, `key`) identifies it at every receiver. */
export interface SinkRecord {
  readonly content: Content;
  /** unique in its stream: rollups and manifests `<motor>/<position>|<period>|<start ms>`, transients `<motor>|<from ms>`, alarms their id, journal its number */
  readonly key: string;
  /** whom it is about: the sensor of rollups and manifests, the motor of transients, the subject of alarms and journal */
  readonly subject: string;
  /** a receiver replaces what it has under this key only by a higher one; never lower than one that was sent before */
  readonly revision: number;
  /** event time, ms since the epoch: the start of a rollup, transient or manifest; the time of an alarm or entry */
  readonly at: number;
  /** it comes late, behind what is live: receivers that can are told so */
  readonly isBacklog: boolean;
}

/** What became of a batch. */
export type Sent =
  /** the receiver has all of it durably, or had it already */
  | { readonly outcome: 'taken' }
  /**
   * nothing can be said of it: the same records again, not before `retryAfterMs` where the receiver gave one. The sink is
   * closed and opened anew before that, unless `isOpen` says that its connection is good. `isCut`: the receiver ended the
   * connection while these records were on their way, which may be the fault of one of them
   */
  | {
      readonly outcome: 'later';
      readonly reason: string;
      readonly retryAfterMs: number | null;
      readonly isOpen?: true;
      readonly isCut?: true;
    }
  /** it will never be taken as it is. `index`: of the record at fault; null: not known, the forwarder halves the batch */
  | { readonly outcome: 'refused'; readonly reason: string; readonly index: number | null };

/** A connection to one receiver, of one thread, used by one caller. */
export interface Sink {
  /** most records of one `send` */
  readonly recordsMost: number;
  /** calls of `send` that may be under way at a time, each behind the one before it; absent: one */
  readonly callsAtOnce?: number;
  /** live records are gathered for so long before a `send`, because each call costs much; absent: they are sent at once */
  readonly gatherMs?: number;
  /** Connects, or rejects with a sentence that says what to do. Called again after `close`. */
  open(signal: AbortSignal): Promise<void>;
  /** Resolves always but for our own mistakes. When `signal` aborts, the socket is destroyed and the outcome is `later`. */
  send(records: readonly SinkRecord[], signal: AbortSignal): Promise<Sent>;
  /** Frees everything, at once where it must; never rejects. */
  close(): Promise<void>;
  /** Creates or checks what the receiver needs; one sentence for each thing done or found. Absent: it needs nothing. */
  prepare?(signal: AbortSignal): Promise<readonly string[]>;
  /** What the receiver holds of a day, computed by the receiver from its rows. Absent: it cannot be read. */
  readHeld?(
    query: { readonly day: number; readonly period: Manifest['period'] },
    signal: AbortSignal,
  ): Promise<readonly Manifest[]>;
}

/** What a sink keeps across restarts besides the cursor, such as numbers that must not be given twice. */
export interface SinkMemory {
  /** null: nothing was kept yet */
  read(): string | null;
  /** durable when it returns; at most 1 MB */
  write(json: string): void;
}

/** What a sink is made with. */
export interface SinkParts {
  /** of the configuration, unique */
  readonly name: string;
  readonly site: string;
  readonly memory: SinkMemory;
  /** passwords and keys by reference, already read; by the name of their key in the configuration */
  readonly secrets: ReadonlyMap<string, string>;
  /** configured sensors, `<motor>/<position>`, and motors */
  readonly sensors: readonly string[];
  readonly motors: readonly string[];
  /** what the configuration says of an alarm */
  adviceOf(this: void, alarm: string): AdviceRow;
  /** the gateway's clock, ms: for what is written */
  now(this: void): number;
  /** ms from any beginning; nobody sets it: for waits and measurements */
  steady(this: void): number;
  log(level: 'info' | 'warn' | 'error', facts: object, text: string): void;
}
