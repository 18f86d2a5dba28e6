/** The gateway as it stands, put together for the HTTP interface: figures, disk, the configuration file, and the last proof. */
import { stat, statfs } from 'node:fs/promises';
import { join } from 'node:path';
import type {
  ConfigurationRow,
  Contacts,
  ProofRow,
  StationReader,
  StorageRow,
} from '../api/station-reader.js';
import type { ApiReader, LedgerRow } from '../api/deps.js';
import type { Config } from '../config/config.js';
import type { Gateway } from '../gateway.js';
import { FILE_NAME } from '../store/open.js';
import { RateMeter } from './rate-meter.js';
import type { FileComparison } from './query/compare-file.js';

/** A proof reads every increment: not more often than this. */
const PROOF_AGE_MS = 900_000;
const SAMPLE_MS = 10_000;

export interface StationDeskParts {
  readonly config: Config;
  readonly dataDir: string;
  readonly gateway: Pick<Gateway, 'figures' | 'contacts'>;
  readonly reader: Pick<ApiReader, 'ledger'>;
  compareFile(inForce: Config): Promise<FileComparison>;
  now(): number;
}

export class StationDesk implements StationReader {
  readonly #parts: StationDeskParts;
  readonly #startedAt: number;
  readonly #meter = new RateMeter();
  readonly #timer: NodeJS.Timeout;
  #config: Config;
  #inForceSince: number;
  #compared: { readonly stamp: string; readonly row: ConfigurationRow } | null = null;
  #proof: ProofRow | null = null;
  #isProving = false;

  constructor(parts: StationDeskParts) {
    this.#parts = parts;
    this.#config = parts.config;
    this.#startedAt = this.#inForceSince = parts.now();
    this.#sample();
    this.#timer = setInterval(() => this.#sample(), SAMPLE_MS);
    this.#timer.unref();
  }

  /** A reload has put another configuration in force. */
  takeConfig(config: Config): void {
    this.#config = config;
    this.#inForceSince = this.#parts.now();
    this.#compared = null;
  }

  close(): void {
    clearInterval(this.#timer);
  }

  figures(): ReturnType<StationReader['figures']> {
    const { intake, engine, clockOffsetMs } = this.#parts.gateway.figures();
    const lastCommitAt = engine?.lastCommitAt ?? 0;
    return {
      startedAt: this.#startedAt,
      ...{ clients: intake.clients, received: intake.received, acknowledged: intake.acknowledged },
      ...{ denied: intake.denied, cut: intake.cut, refused: engine?.refused ?? 0 },
      ...{ pendingBytes: intake.pendingBytes, commitWaitMs: intake.waitingMs, clockOffsetMs },
      lastCommitAt: lastCommitAt === 0 ? null : Math.floor(lastCommitAt),
      commitFailures: engine?.failures ?? 0,
      ...{ perS1m: this.#meter.perSecond(60_000), perS10m: this.#meter.perSecond(600_000) },
    };
  }

  contacts(): Contacts {
    return { ...this.#parts.gateway.contacts(), logins: listTopics(this.#config) };
  }

  async storage(): Promise<StorageRow> {
    const { dataDir } = this.#parts;
    const file = join(dataDir, FILE_NAME);
    const sizeOf = (path: string): Promise<number | null> =>
      stat(path).then(
        ({ size }) => size,
        () => null,
      );
    const [databaseBytes, walBytes, disk] = await Promise.all([
      sizeOf(file),
      sizeOf(`${file}-wal`),
      statfs(dataDir).catch(() => null),
    ]);
    return {
      ...{ folder: dataDir, databaseBytes, walBytes },
      diskBytes: disk === null ? null : disk.blocks * disk.bsize,
      freeBytes: disk === null ? null : disk.bavail * disk.bsize,
      retention: this.#config.storage.retention,
    };
  }

  /** The file is read again only when it was written since. */
  async configuration(): Promise<ConfigurationRow> {
    const { file } = this.#config;
    const inForce = this.#config;
    const stamp = await stat(file).then(
      ({ mtimeMs, size, ino }) => `${mtimeMs}/${size}/${ino}`,
      () => 'missing',
    );
    if (this.#compared?.stamp === stamp && this.#config === inForce) return this.#compared.row;
    const nothing = { file, inForceSince: this.#inForceSince, fileRevision: null, changes: [], problems: [] };
    try {
      const { revision, changes, problems } = await this.#parts.compareFile(inForce);
      const state = revision === null ? 'not-valid' : changes.length === 0 ? 'same' : 'differs';
      const row: ConfigurationRow = { ...nothing, state, fileRevision: revision, changes, problems };
      if (this.#config === inForce) this.#compared = { stamp, row };
      return row;
    } catch {
      // the reading thread is busy or gone: the next request asks again
      return { ...nothing, state: 'not-read' };
    }
  }

  proof(): ProofRow | null {
    const age = this.#parts.now() - (this.#proof?.provedAt ?? -Infinity);
    if (age > PROOF_AGE_MS && !this.#isProving) void this.#prove();
    return this.#proof;
  }

  /** No receivers are configured in this version. */
  sinks(): ReturnType<StationReader['sinks']> {
    return [];
  }

  async #prove(): Promise<void> {
    this.#isProving = true;
    try {
      const rows = await this.#parts.reader.ledger({ sensor: null, from: null, to: null });
      this.#proof = sumProof(rows, this.#parts.now());
    } catch {
      // the store cannot be read: what was proved before keeps its time
    } finally {
      this.#isProving = false;
    }
  }

  #sample(): void {
    this.#meter.add(performance.now(), this.#parts.gateway.figures().intake.received);
  }
}

function sumProof(rows: readonly LedgerRow[], provedAt: number): ProofRow {
  const sum = (of: (row: LedgerRow) => number): number => rows.reduce((total, row) => total + of(row), 0);
  return {
    ...{ provedAt, sensors: rows.length },
    counted: sum(({ counted }) => counted),
    classified: sum(({ classified }) => classified),
    pending: sum(({ pending }) => pending),
    unknownStretches: sum(({ unknown }) => unknown.length),
    unbalanced: rows.filter(({ balanced }) => !balanced).map(({ sensor }) => sensor),
  };
}

/** Topics that each login may publish to. */
function listTopics({ site, mqtt }: Config): Map<string, string[]> {
  return new Map(
    (mqtt.users ?? []).map(({ name, sensors, motors }) => [
      name,
      [
        ...sensors.map((sensor) => `${site}/in/${sensor}/reading`),
        ...motors.map((motor) => `${site}/in/${motor}/drive/state`),
      ],
    ]),
  );
}
