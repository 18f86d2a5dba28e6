/** What a gateway is started with, and what can be asked of it. */
import type { AlarmWish, LiveEvent, Metric } from './api/deps.js';
import type { Config } from './config/config.js';
import type { Endpoint } from './config/endpoint.js';
import type { ActAnswer, AlarmRecord } from './core/alarm-rows.js';
import type { SinkStanding } from './core/facts.js';
import type { Plan } from './core/plan.js';
import type { InlineParts } from './engine/engine-host.js';
import type { EntryResult, MaintenanceCall } from './engine/maintenance-calls.js';
import type { KeptRecord } from './engine/protocol.js';
import type { Arrival } from './intake/intake.js';
import type { Log } from './intake/log-limit.js';
import type { GatewayFigures } from './gateway-metrics.js';

export interface GatewayWishes {
  readonly config: Config;
  readonly plan: Plan;
  readonly dataDir: string;
  /** absent: as configured */
  readonly mqtt?: Endpoint;
  readonly version: string;
  readonly log: Log;
  /** for tests: the engine in this thread, with these parts */
  readonly inline?: InlineParts;
}

/** What an arrival recorder is told; ticks stand where the core saw them. */
export type Recorded = Arrival | { readonly kind: 'tick'; readonly arrived: number };

export interface Gateway {
  readonly mqttPort: number;
  /** The gateway's clock: the machine's, and what a person had it add; ms. */
  now(): number;
  /**
   * Tells, at once and at each change, what the gateway's clock adds to the machine's, ms; for threads and processes of their
   * own. Returns the function that ends it.
   */
  followClock(listener: (offsetMs: number) => void): () => void;
  plan(): Plan;
  ready(): { readonly ok: boolean; readonly reasons: readonly string[] };
  figures(): GatewayFigures;
  metrics(): readonly Metric[];
  /** returns the function that ends the subscription */
  subscribeLive(listener: (event: LiveEvent) => void): () => void;
  operate(wish: AlarmWish): Promise<readonly ActAnswer[]>;
  /** alarms of the gateway itself that stand now */
  ownAlarms(): readonly AlarmRecord[];
  maintain(call: MaintenanceCall): Promise<EntryResult>;
  /** All or nothing: on rejection everything is as before. `note` goes into the journal. */
  reload(config: Config, plan: Plan, note: string): Promise<void>;
  /** Writes a line into the journal. */
  note(text: string): Promise<void>;
  /** Stores the record of another room and lines of the journal, in one transaction. */
  keep(record: KeptRecord): Promise<void>;
  /** Entries of the outbox up to these positions, by stream, are settled at every sink. */
  forwarded(done: ReadonlyMap<number, number>): void;
  /** How the sinks stand by now. */
  tellSinks(sinks: readonly SinkStanding[]): void;
  backup(path: string): Promise<{ bytes: number }>;
  /**
   * A person lets the gateway go on although its clock lies before what is stored, or most devices have another time. Rejects with
   * `code` CLOCK_NOT_IN_DOUBT when it does not wait for that.
   */
  trustClock(who: string): Promise<void>;
  /** Told of everything that is committed, in its order; null ends it. */
  record(recorder: ((recorded: Recorded) => void) | null): void;
  stop(): Promise<void>;
}
