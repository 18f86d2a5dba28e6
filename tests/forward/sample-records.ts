/** Records as a forwarder hands them to a sink: one of each stream, and many rollups drawn from a seed. */
import type { AlarmRecord, Evidence, JournalEntry } from '../../src/core/alarm-rows.js';
import type { Manifest, SinkRecord } from '../../src/forward/sink.js';
import type { RollupRow } from '../../src/store/rollup-row.js';
import { seedRandom } from '../support/seeded-random.js';

/** Midnight UTC. */
export const DAY = Date.UTC(2026, 2, 2);
export const SENSORS = ['booster-4/de', 'booster-4/nde', 'intake-1/de', 'intake-1/nde'];
export const MOTORS = ['booster-4', 'intake-1'];
const PERIOD_MS = { '1m': 60_000, '10m': 600_000, '1h': 3_600_000 } as const;

export function rollupRecord(row: RollupRow, isBacklog = false): SinkRecord {
  return {
    content: { stream: 'rollups', row },
    ...{ key: `${row.sensor}|${row.period}|${row.start}`, subject: row.sensor },
    ...{ revision: row.revision, at: row.start, isBacklog },
  };
}

/** Sums that differ with sensor, start and revision, so that a mix-up shows. */
export function rollupRow(
  sensor: string,
  start: number,
  revision: number,
  period: Manifest['period'] = '1m',
): RollupRow {
  const random = seedRandom(start / 60_000 + revision * 7 + sensor.length * 31 + sensor.charCodeAt(0));
  const length = PERIOD_MS[period];
  const running = Math.floor(random() * length);
  const pulses = Math.floor(random() * 5_000);
  const isStanding = random() < 0.2;
  return {
    ...{ sensor, period, start, revision },
    pulses: [0, 0, 1, 0, 2, 0, isStanding ? 0 : pulses, 3, 0],
    ms: [0, 0, 10, 0, 20, 0, isStanding ? 0 : running, length - 30 - (isStanding ? 0 : running), 0],
    uncertainMs: revision * 10,
    bins: isStanding ? [] : [{ bin: 'speed 600..1200, load ..50', pulses, ms: running }],
  };
}

const evidence: Evidence = {
  ...{ from: DAY, to: DAY + 600_000, pulses: 8_800, exposureMs: 600_000, ratePerMin: 880 },
  ...{ lowerPerMin: 861.5, upperPerMin: 898.7, dispersion: 1.2, confidence: 0.95, setpointPerMin: 300 },
  ...{ deadbandPerMin: 30, onDelayMs: 60_000, offDelayMs: 60_000, configuration: 'r1' },
  strip: [{ from: DAY, to: DAY + 600_000, state: 'running', modulating: true }],
  says: 'The rate’s lower limit lay above the setpoint:\t861.5 > 300\nfor 1 min \\ of running.',
};

export function alarmRecord(change: Partial<AlarmRecord> = {}, revision = 1, at = DAY + 660_000): SinkRecord {
  const row: AlarmRecord = {
    ...{ id: 'booster-4.de-rate-high', motor: 'booster-4', alarm: 'de-rate-high', sensor: 'booster-4/de' },
    ...{ kind: 'rate-high', priority: 'low', active: true, acknowledged: false, latched: false },
    ...{ acknowledgedBy: '', note: '', confirmed: true, confirmedBy: '', shelvedUntil: null },
    ...{ shelvedOnce: false, shelvedBy: '', shelvedWhy: '', suppressedBy: null, outOfService: false },
    ...{ outOfServiceBy: '', outOfServiceWhy: '', heldBy: null, groupedUnder: null },
    ...{ annunciatedAt: at, state: 'unacknowledged', since: at, onMs: 0, offMs: 0, returnFrom: null },
    ...{ returnPulses: 0, returnMs: 0, evidence },
    ...change,
  };
  return {
    content: { stream: 'alarms', row },
    ...{ key: row.id, subject: row.motor, revision, at, isBacklog: false },
  };
}

export function journalRecord(number: number, change: Partial<JournalEntry> = {}): SinkRecord {
  const row: JournalEntry = {
    ...{ at: DAY + number * 1_000, detectedAt: DAY + number * 1_000 + 5, kind: 'alarm' },
    ...{ subject: 'booster-4.de-rate-high', from: 'normal', to: 'unacknowledged', who: '' },
    ...{ text: `Entry ${number}: "quoted", 'single', tab\tand\r\nlines`, what: 'raised', annunciated: true },
    ...{ configuration: 'r1', evidence },
    ...change,
  };
  return {
    content: { stream: 'journal', row },
    ...{ key: String(number), subject: 'booster-4', revision: 0, at: row.at, isBacklog: false },
  };
}

export function transientRecord(from: number, revision: number, isWithdrawn = false): SinkRecord {
  const counts = [
    { sensor: 'booster-4/de', pulses: 40, ms: 9_000 },
    { sensor: 'intake-1/de', pulses: 7, ms: 9_000 },
  ];
  const row = { motor: 'booster-4', from, to: from + 20_000, edges: 2, kind: 'start' as const, counts };
  return {
    content: { stream: 'transients', row: isWithdrawn ? null : row },
    ...{ key: `booster-4|${from}`, subject: 'booster-4', revision, at: from, isBacklog: false },
  };
}

export function manifestRecord(row: Manifest, revision = 1): SinkRecord {
  return {
    content: { stream: 'manifests', row },
    ...{ key: `${row.sensor}|${row.period}|${row.day}`, subject: row.sensor, revision, at: row.day },
    isBacklog: false,
  };
}

/** `count` rollups of 1 min of four sensors from `DAY` on, revision 0, in order of time. */
export function manyRollups(count: number): RollupRow[] {
  return Array.from({ length: count }, (_, i) =>
    rollupRow(SENSORS[i % SENSORS.length]!, DAY + Math.floor(i / SENSORS.length) * 60_000, 0),
  );
}

/** What a receiver must hold after `rows`, whatever their order: of each key the highest revision. */
export function newestOf(rows: readonly RollupRow[]): RollupRow[] {
  const byKey = new Map<string, RollupRow>();
  for (const row of rows) {
    const key = `${row.sensor}|${row.period}|${row.start}`;
    const before = byKey.get(key);
    if (before === undefined || before.revision < row.revision) byKey.set(key, row);
  }
  return [...byKey.values()];
}

const sum = (numbers: readonly number[]): number => numbers.reduce((a, b) => a + b, 0);

/** Manifests of rows of one day and period, ordered by sensor. */
export function sumManifests(
  rows: readonly RollupRow[],
  day: number,
  period: Manifest['period'],
): Manifest[] {
  const newest = newestOf(rows).filter(
    (row) => row.period === period && row.start >= day && row.start < day + 86_400_000,
  );
  return [...new Set(newest.map(({ sensor }) => sensor))].sort().map((sensor) => {
    const own = newest.filter((row) => row.sensor === sensor);
    return {
      ...{ sensor, period, day, rows: own.length },
      pulses: sum(own.map((row) => sum(row.pulses))),
      ms: sum(own.map((row) => sum(row.ms))),
      highestRevision: Math.max(...own.map(({ revision }) => revision)),
    };
  });
}
