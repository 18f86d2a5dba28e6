/** The gateway as it stands, in memory: what each test needs is put into it. */
import type { DriveMessage, HeardCounts } from '../../src/advice/commissioning.js';
import type { CommissioningKeeper, CommissioningReader } from '../../src/api/commissioning-reader.js';
import type {
  Arrival,
  ConfigurationRow,
  Denial,
  ProofRow,
  Refused,
  StationFigures,
  StationReader,
  WiringReader,
} from '../../src/api/station-reader.js';

export interface FakeStation extends StationReader {
  figuresNow: StationFigures;
  configurationNow: ConfigurationRow;
  proofNow: ProofRow | null;
  denied: Denial[];
}

export function makeFakeStation(now: number): FakeStation {
  const station: FakeStation = {
    figuresNow: {
      startedAt: now - 3_600_000,
      ...{ clients: 2, received: 100, acknowledged: 99, denied: 1, cut: 0, refused: 1, pendingBytes: 0 },
      ...{ commitWaitMs: 0, lastCommitAt: now - 1_000, commitFailures: 0, perS1m: 0.2, perS10m: null },
      ...{ clockOffsetMs: 0, clockDoubt: null },
    },
    configurationNow: {
      ...{ file: 'plant.yaml', inForceSince: now - 3_600_000, state: 'same', fileRevision: 'abc123' },
      ...{ changes: [], problems: [] },
    },
    proofNow: {
      ...{ provedAt: now - 60_000, sensors: 1, counted: 93, classified: 93, pending: 0 },
      ...{ unknownStretches: 0, unbalanced: [] },
    },
    denied: [],
    figures: () => Promise.resolve(station.figuresNow),
    contacts: (topics) =>
      Promise.resolve({
        heard: [{ topic: 'plant-a/in/pump-1/de/reading', client: 'sensor-1', at: now - 2_000 }].filter(
          ({ topic }) => topics.includes(topic),
        ),
        denied: station.denied,
        logins: new Map([['pump-1-de', ['plant-a/in/pump-1/de/reading']]]),
      }),
    storage: () =>
      Promise.resolve({
        ...{ folder: '/data', databaseBytes: 4096, walBytes: 0, diskBytes: 1e9, freeBytes: 5e8 },
        retention: { incrementsDays: 14 },
      }),
    configuration: () => Promise.resolve(station.configurationNow),
    proof: () => station.proofNow,
    sinks: () => Promise.resolve([]),
    plc: () => Promise.resolve([]),
  };
  return station;
}

export interface FakeWiring extends WiringReader {
  arrivalsNow: Arrival[];
  refusedNow: Refused[];
}

export function makeFakeWiring(now: number): FakeWiring {
  const wiring: FakeWiring = {
    arrivalsNow: [
      {
        ...{ sensor: 'pump-1/de', device: 'SN-0412', lastReadingAt: now - 4_000, classifiedTo: now - 14_000 },
        ...{ ms: { running: 3_500_000, unattributed: 0 }, reason: '', reasonAt: null, isClockOff: null },
      },
    ],
    refusedNow: [],
    arrivals: () => Promise.resolve(wiring.arrivalsNow),
    refused: () => Promise.resolve(wiring.refusedNow),
  };
  return wiring;
}

/** Runs are kept as the store keeps them: newest first, as JSON. */
export interface FakeCommissioning extends CommissioningReader, CommissioningKeeper {
  heardNow: HeardCounts[];
  drivesNow: DriveMessage[];
  readonly entries: string[];
  /** function checks, as they began and ended */
  readonly checks: string[];
}

export function makeFakeCommissioning(): FakeCommissioning {
  const runs = new Map<number, string>();
  const fake: FakeCommissioning = {
    heardNow: [],
    drivesNow: [],
    entries: [],
    checks: [],
    heard: () => Promise.resolve(fake.heardNow),
    driveChanges: () => Promise.resolve(fake.drivesNow),
    keptRuns: ({ motor, limit, cursor }) => {
      const all = [...runs.values()]
        .map((json) => JSON.parse(json) as { id: number; motor: string })
        .filter((run) => (motor === null || run.motor === motor) && run.id < Number(cursor ?? Infinity))
        .sort((a, b) => b.id - a.id);
      const page = all.slice(0, limit);
      return Promise.resolve({
        items: page.map((run) => JSON.stringify(run)),
        next: all.length > page.length ? String(page.at(-1)!.id) : null,
      });
    },
    keptRun: (id) =>
      Promise.resolve(
        [...runs.values()].find((json) => (JSON.parse(json) as { id: number }).id === id) ?? null,
      ),
    keep: (place, json, entry, checks) => {
      fake.checks.push(...checks.map(({ sensor, act, who }) => `${who} ${act}s ${sensor}`));
      runs.set(place, json);
      if (entry !== null) fake.entries.push(`${entry.who} on ${entry.motor}: ${entry.text}`);
      return Promise.resolve();
    },
  };
  return fake;
}
