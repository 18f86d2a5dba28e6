/** Records for tests of sinks: one of each stream, and as many rollups as are wanted. */
import type { SinkParts, SinkRecord } from '../../src/forward/sink.js';
import { emptySums, type RollupRow } from '../../src/store/rollup-row.js';
import { INPUTS, quietAlarm } from '../support/alarm-states.js';

export const DAY_MS = 86_400_000;
/** Midnight UTC, 1 March 2026. */
export const DAY = Date.UTC(2026, 2, 1);
export const SENSOR = 'booster-1/de';

export function makeRollup(
  sensor: string,
  period: RollupRow['period'],
  start: number,
  revision: number,
): RollupRow {
  const row: RollupRow = { sensor, period, start, revision, ...emptySums(), bins: [] };
  row.pulses[6] = (start / 60_000) % 97;
  row.ms[6] = 60_000;
  row.pulses[4] = revision;
  return row;
}

export function rollupRecord(minute: number, revision = 0, sensor = SENSOR): SinkRecord {
  const start = DAY + minute * 60_000;
  return {
    content: { stream: 'rollups', row: makeRollup(sensor, '1m', start, revision) },
    key: `${sensor}|1m|${start}`,
    subject: sensor,
    revision,
    at: start,
    isBacklog: false,
  };
}

export function rollupRecords(count: number, from = 0): SinkRecord[] {
  return Array.from({ length: count }, (_, i) => rollupRecord(from + i));
}

/** One of every stream, a withdrawn transient among them. */
export function eachStream(): SinkRecord[] {
  const base = { at: DAY + 1_000, revision: 5, isBacklog: true };
  const motor = 'booster-1';
  const counts = [{ sensor: SENSOR, pulses: 12, ms: 9_000 }];
  const row = { motor, from: DAY, to: DAY + 20_000, edges: 2, kind: 'start' as const, counts };
  const raise = INPUTS[0]!;
  return [
    rollupRecord(1),
    { ...base, content: { stream: 'transients', row }, key: `${motor}|${DAY}`, subject: motor },
    { ...base, content: { stream: 'transients', row: null }, key: `${motor}|${DAY + 1}`, subject: motor },
    {
      ...base,
      content: { stream: 'alarms', row: quietAlarm('rate-high') },
      key: 'pump.de-rate-high',
      subject: 'pump.de-rate-high',
    },
    {
      ...base,
      content: {
        stream: 'journal',
        row: {
          ...{
            at: base.at,
            detectedAt: base.at,
            kind: 'alarm',
            subject: 'pump.de-rate-high',
            from: 'normal',
          },
          ...{ to: 'unacknowledged', who: '', text: 'too many', what: 'raised', annunciated: true },
          ...{ configuration: 'test', evidence: raise.kind === 'raise' ? raise.evidence : null },
        },
      },
      key: '17',
      subject: 'pump.de-rate-high',
    },
    {
      ...base,
      content: {
        stream: 'manifests',
        row: {
          sensor: SENSOR,
          period: '1m',
          day: DAY,
          rows: 1_440,
          pulses: 900,
          ms: DAY_MS,
          highestRevision: 3,
        },
      },
      key: `${SENSOR}|1m|${DAY}`,
      subject: SENSOR,
    },
  ];
}

/** Parts of a sink that nothing else is there for. */
export function makeParts(overrides: Partial<SinkParts> = {}): SinkParts {
  let kept: string | null = null;
  return {
    name: 'under-test',
    site: 'works',
    memory: { read: () => kept, write: (json) => void (kept = json) },
    askAgain: () => undefined,
    secrets: new Map(),
    sensors: [SENSOR, 'booster-1/nde'],
    motors: ['booster-1'],
    adviceOf: () => ({ consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null }),
    now: () => Date.now(),
    steady: () => performance.now(),
    log: () => undefined,
    ...overrides,
  };
}
