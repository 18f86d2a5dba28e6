/** The gateway as it stands, put together for the HTTP interface: figures, disk, the configuration file, and the last proof. */
import { stat, statfs } from 'node:fs/promises';
import { join } from 'node:path';
import type {
  ConfigurationRow,
  Contacts,
  ProofRow,
  StationReader,
  StorageRow,
} from '../../api/station-reader.js';
import type { ApiReader, LedgerRow } from '../../api/deps.js';
import type { Config } from '../../config/config.js';
import { FILE_NAME } from '../../store/open.js';
import { RateMeter } from '../rate-meter.js';
import { toSinkLine } from '../sink-lines.js';
import type { FileComparison, InForceConfigs } from '../query/compare-file.js';
import type { MainCalls } from './main-calls.js';
import type { InForce } from './protocol.js';

/** A proof reads every increment: not more often than this. */
const PROOF_AGE_MS = 900_000;
const SAMPLE_MS = 10_000;

export interface StationDeskParts {
  readonly inForce: InForce;
  /** start of the gateway */
  readonly startedAt: number;
  readonly dataDir: string;
  readonly calls: Pick<MainCalls, 'ask'>;
  readonly reader: Pick<ApiReader, 'ledger'>;
  compareFile(configs: InForceConfigs): Promise<FileComparison>;
  now(): number;
}

export class StationDesk implements StationReader {
  readonly #parts: StationDeskParts;
  readonly #meter = new RateMeter();
  readonly #timer: NodeJS.Timeout;
  #inForce: InForce;
  /** how often another configuration was taken over */
  #reloads = 0;
  #compared: {
    readonly stamp: string;
    readonly reloads: number;
    readonly row: Promise<ConfigurationRow>;
  } | null = null;
  #proof: ProofRow | null = null;
  #isProving = false;

  constructor(parts: StationDeskParts) {
    this.#parts = parts;
    this.#inForce = parts.inForce;
    void this.#sample();
    this.#timer = setInterval(() => void this.#sample(), SAMPLE_MS);
    this.#timer.unref();
  }

  /** A reload has put another configuration in force. */
  take(inForce: InForce): void {
    this.#inForce = inForce;
    this.#reloads += 1;
  }

  close(): void {
    clearInterval(this.#timer);
  }

  async figures(): ReturnType<StationReader['figures']> {
    return {
      ...(await this.#parts.calls.ask('figures', null)),
      startedAt: this.#parts.startedAt,
      ...{ perS1m: this.#meter.perSecond(60_000), perS10m: this.#meter.perSecond(600_000) },
    };
  }

  async contacts(topics: readonly string[]): Promise<Contacts> {
    const { config } = this.#inForce;
    return { ...(await this.#parts.calls.ask('contacts', topics)), logins: listTopics(config) };
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
      retention: this.#inForce.config.storage.retention,
    };
  }

  /** The file is read again only when it was written since; however many ask, it is compared once. */
  async configuration(): Promise<ConfigurationRow> {
    const { config } = this.#inForce;
    const stamp = await stat(config.file).then(
      ({ mtimeMs, size, ino }) => `${mtimeMs}/${size}/${ino}`,
      () => 'missing',
    );
    const reloads = this.#reloads;
    if (this.#compared?.stamp !== stamp || this.#compared.reloads !== reloads)
      this.#compared = { stamp, reloads, row: this.#compare(this.#inForce) };
    const row = await this.#compared.row;
    // the reading thread is busy or gone: the next request asks again
    if (row.state === 'not-read') this.#compared = null;
    return row;
  }

  async #compare({ config, started, since: inForceSince }: InForce): Promise<ConfigurationRow> {
    const { file } = config;
    const nothing = { file, inForceSince, fileRevision: null, changes: [], problems: [] };
    try {
      const { revision, changes, problems } = await this.#parts.compareFile({ inForce: config, started });
      const state = revision === null ? 'not-valid' : changes.length === 0 ? 'same' : 'differs';
      return { ...nothing, state, fileRevision: revision, changes, problems };
    } catch {
      return { ...nothing, state: 'not-read' };
    }
  }

  proof(): ProofRow | null {
    const age = this.#parts.now() - (this.#proof?.provedAt ?? -Infinity);
    if (age > PROOF_AGE_MS && !this.#isProving) void this.#prove();
    return this.#proof;
  }

  async sinks(): ReturnType<StationReader['sinks']> {
    return (await this.#parts.calls.ask('sinks', null)).map(toSinkLine);
  }

  plc(): ReturnType<StationReader['plc']> {
    const { modbus, opcua } = this.#inForce.config;
    return this.#parts.calls.ask('plc', { modbus, opcua });
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

  async #sample(): Promise<void> {
    try {
      const { received } = await this.#parts.calls.ask('figures', null);
      this.#meter.add(performance.now(), received);
    } catch {
      // it did not answer: the rate is taken over a longer time
    }
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
