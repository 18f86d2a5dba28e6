/** The gateway as it stands, for whoever watches it and for whoever wires it. Times in ms, null: not known. */

/** What became of a sensor's readings, from the store. */
export interface Arrival {
  readonly sensor: string;
  readonly device: string | null;
  readonly lastReadingAt: number | null;
  readonly classifiedTo: number | null;
  readonly ms: Readonly<Record<string, number>>;
  readonly reason: string;
  readonly reasonAt: number | null;
  readonly isClockOff: boolean | null;
}

/** What was refused under one topic for one reason from one client. */
export interface Refused {
  readonly topic: string;
  readonly reason: string;
  readonly client: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
}

export interface WiringReader {
  /** those of which anything is stored, in the order of the sensors asked for */
  arrivals(query: {
    readonly sensors: readonly string[];
    /** of the sums of classes, ms */
    readonly since: number;
    /** of the newest reason */
    readonly reasonsSince: number;
  }): Promise<readonly Arrival[]>;
  /** newest first */
  refused(): Promise<readonly Refused[]>;
}

/** The last message of a topic since the gateway started. */
export interface Contact {
  readonly topic: string;
  readonly client: string;
  readonly at: number;
}

/** Something that a client may not do and tried, since the gateway started. */
export interface Denial {
  readonly kind: 'failed-login' | 'denied-publish' | 'denied-subscribe';
  /** topic or filter; '' of a login */
  readonly topic: string;
  readonly client: string;
  /** user name as given; '': none */
  readonly login: string;
  readonly rule: string;
  readonly count: number;
  readonly firstAt: number;
  readonly lastAt: number;
}

export interface Contacts {
  /** of the topics that were asked for */
  readonly heard: readonly Contact[];
  /** newest first */
  readonly denied: readonly Denial[];
  /** by login: the topics that it may publish to */
  readonly logins: ReadonlyMap<string, readonly string[]>;
}

export interface StationFigures {
  readonly startedAt: number;
  readonly clients: number;
  readonly received: number;
  readonly acknowledged: number;
  readonly denied: number;
  readonly cut: number;
  readonly refused: number;
  readonly pendingBytes: number;
  readonly commitWaitMs: number;
  readonly lastCommitAt: number | null;
  readonly commitFailures: number;
  readonly perS1m: number | null;
  readonly perS10m: number | null;
  /** added to the wall clock by a person's decision */
  readonly clockOffsetMs: number;
  /** how far most devices disagree with a clock that a person lets pass; null: they do not */
  readonly clockDoubt: string | null;
}

export interface StorageRow {
  readonly folder: string;
  readonly databaseBytes: number | null;
  readonly walBytes: number | null;
  readonly diskBytes: number | null;
  readonly freeBytes: number | null;
  /** days by kind of record */
  readonly retention: Readonly<Record<string, number>>;
}

export interface ConfigurationRow {
  readonly file: string;
  readonly inForceSince: number;
  readonly state: 'same' | 'differs' | 'not-valid' | 'not-read';
  readonly fileRevision: string | null;
  readonly changes: readonly {
    readonly path: string;
    readonly before: string | null;
    readonly after: string | null;
    readonly needsRestart: boolean;
  }[];
  readonly problems: readonly string[];
}

/** null: it has not been proved since the start. */
export interface ProofRow {
  readonly provedAt: number;
  readonly sensors: number;
  readonly counted: number;
  readonly classified: number;
  readonly pending: number;
  readonly unknownStretches: number;
  readonly unbalanced: readonly string[];
}

export interface SinkRow {
  readonly sink: string;
  readonly kind: string;
  readonly state: 'working' | 'behind' | 'failing' | 'idle';
  readonly lastDeliveredAt: number | null;
  readonly lastErrorAt: number | null;
  readonly lastError: string;
  readonly pending: number;
  readonly says: string;
}

/** A server for PLC and HMI that is configured. */
export interface PlcRow {
  /** `Modbus TCP`, `OPC UA` */
  readonly server: string;
  /** missing: what it needs is not installed */
  readonly state: 'starting' | 'listening' | 'waiting' | 'stopped' | 'missing';
  /** null: it does not listen */
  readonly port: number | null;
  /** connections or sessions now */
  readonly clients: number;
  /** since its process began; null: it does not count them */
  readonly requests: number | null;
  readonly refused: number | null;
  readonly restarts: number;
  /** why it does not listen; '': it does, or it is starting */
  readonly fault: string;
}

/** What is asked of another thread rejects with code `no-answer` when that does not answer in time. */
export interface StationReader {
  figures(): Promise<StationFigures>;
  /** `topics`: those whose last message is asked for */
  contacts(topics: readonly string[]): Promise<Contacts>;
  storage(): Promise<StorageRow>;
  /** the file as it is now against what is in force */
  configuration(): Promise<ConfigurationRow>;
  /** the last proof of the ledger; asks for a new one where it is old, and does not wait for it */
  proof(): ProofRow | null;
  sinks(): Promise<readonly SinkRow[]>;
  plc(): Promise<readonly PlcRow[]>;
}
