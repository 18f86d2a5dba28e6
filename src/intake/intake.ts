/** What the intake is asked for and what it offers: the words between the broker and whoever wires it to the engine. */
import type { SubmittedBatch } from './batcher.js';
import type { ContactReport } from './contacts.js';
import type { Login } from './credentials.js';
import type { Log } from './log-limit.js';

export interface IntakeLimits {
  readonly packetBytesMax: number;
  readonly clientsMax: number;
  readonly pendingPerClientMax: number;
  readonly pendingBytesMax: number;
  readonly drainTimeoutMs: number;
}

/** One message as it arrived, for whoever records the traffic. */
export type Arrival =
  | {
      readonly kind: 'message';
      readonly arrived: number;
      readonly client: string;
      readonly topic: string;
      readonly payload: Uint8Array;
      readonly retain: boolean;
    }
  | {
      readonly kind: 'connect';
      readonly arrived: number;
      readonly client: string;
    }
  | {
      readonly kind: 'disconnect';
      readonly arrived: number;
      readonly client: string;
      /** it said goodbye */
      readonly isClean: boolean;
    };

export interface Publication {
  readonly topic: string;
  readonly payload: string | Uint8Array;
  readonly retain: boolean;
}

/** Whether anybody listens to what comes in, and to what goes out. */
export interface Interest {
  readonly inbound: boolean;
  readonly outbound: boolean;
}

export interface IntakeWishes {
  readonly site: string;
  readonly host: string;
  /** 0: any free one */
  readonly port: number;
  readonly limits: IntakeLimits;
  readonly minCommitIntervalMs: number;
  /** null: no logins, everybody who reaches it may publish and read */
  readonly logins: readonly Login[] | null;
  /** client ids that may subscribe and keep their session */
  readonly persistentClients: readonly string[];
  readonly log: Log;
  /** the gateway's clock, ms since the epoch */
  now(): number;
  submit(batch: SubmittedBatch): void;
  interestChanged(interest: Interest): void;
}

export interface IntakeFigures {
  readonly isListening: boolean;
  readonly clients: number;
  readonly received: number;
  readonly acknowledged: number;
  readonly denied: number;
  readonly cut: number;
  readonly pendingBytes: number;
  /** ms since the oldest batch on its way was handed in; 0: none is */
  readonly waitingMs: number;
  readonly publicationsUnderWay: number;
}

export interface Intake {
  readonly port: number;
  /** The engine has committed a batch. `rejected`: places of frames that nobody shall see; `buffer`: for the next batch. */
  settle(id: number, rejected: readonly number[], buffer: ArrayBuffer | null): void;
  /** Nothing can be committed: those who wait are cut, newcomers refused, until `resume`. */
  halt(reason: string): void;
  resume(): void;
  publish(publications: readonly Publication[]): void;
  /** Takes over what was retained before a restart. */
  restoreRetained(publications: readonly Publication[]): Promise<void>;
  /** New passwords and rights. Sessions whose login is gone or changed are cut. */
  setLogins(logins: readonly Login[] | null): void;
  /** `null` ends it. At most one at a time. */
  setTap(tap: ((arrival: Arrival) => void) | null): void;
  figures(): IntakeFigures;
  /** who published what, and who was turned away, since the start */
  contacts(topics: ReadonlySet<string>): ContactReport;
  stop(): Promise<void>;
}
