/**
 * Which metrics there are: a device is a motor, and what is not of a motor belongs to the node. Metrics come in groups that are
 * always sent together, so a group is known by its kind and its name alone.
 */
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import { writeJournal } from '../../../shared/write-messages.js';
import type { AlarmRecord, JournalEntry } from '../../core/alarm-rows.js';
import type { Transient } from '../../core/rows.js';
import type { RollupRow } from '../../store/rollup-row.js';
import { splitSensor } from '../record-body.js';
import type { Manifest, SinkRecord } from '../sink.js';
import { DataType, Quality, type MetricValue } from './payload.js';

export const GROUP_KINDS = ['rollup', 'transient', 'alarm', 'journal', 'manifest'] as const;
export type GroupKind = (typeof GROUP_KINDS)[number];

interface Definition {
  /** behind the name of the group */
  readonly name: string;
  readonly type: DataType;
}

const { int64, double, boolean, string, dateTime } = DataType;

function define(type: DataType, ...names: readonly string[]): Definition[] {
  return names.map((name) => ({ name, type }));
}

const CLASS_NAMES = LEDGER_CLASS_NAMES.flatMap((name) => [`${name}/pulses`, `${name}/ms`]);

/** In the order of the values, and of the aliases: metrics are added at the end and never taken away. */
export const DEFINITIONS: Readonly<Record<GroupKind, readonly Definition[]>> = {
  rollup: [
    ...define(double, 'rate_per_min'),
    ...define(int64, ...CLASS_NAMES, 'uncertain_ms', 'revision'),
    ...define(string, 'bins'),
  ],
  transient: [
    ...define(dateTime, 'ended_at'),
    ...define(int64, 'edges'),
    ...define(string, 'kind', 'counts'),
    ...define(boolean, 'withdrawn'),
    ...define(int64, 'revision'),
  ],
  alarm: [
    ...define(string, 'state', 'priority', 'says'),
    ...define(boolean, 'active', 'acknowledged'),
    ...define(dateTime, 'since'),
    ...define(double, 'rate_per_min', 'setpoint_per_min'),
    ...define(int64, 'revision'),
  ],
  journal: [
    ...define(int64, 'number'),
    ...define(string, 'subject', 'text', 'entry'),
    ...define(int64, 'revision'),
  ],
  manifest: define(int64, 'rows', 'pulses', 'ms', 'highest_revision', 'revision'),
};

/** Room for more metrics of a group without moving the aliases behind it. */
export const ALIASES_OF_GROUP = 32;

/** What one record says: all metrics of one group at one time. */
export interface Report {
  /** '': the node itself */
  readonly device: string;
  readonly kind: GroupKind;
  readonly name: string;
  /** event time, ms */
  readonly at: number;
  readonly values: readonly MetricValue[];
  readonly quality: Quality;
  readonly isUncertain: boolean;
  readonly isBacklog: boolean;
}

const MINUTE_MS = 60_000;
const RUNNING = LEDGER_CLASS_NAMES.indexOf('running') + 1;

/** What it is filed under at a receiver, with its metric: where its period, transient or day begins, or when it happened. */
function timeOf({ content, key, at }: SinkRecord): number {
  switch (content.stream) {
    case 'rollups':
      return content.row.start;
    case 'transients':
      return Number(key.slice(key.lastIndexOf('|') + 1));
    case 'manifests':
      return content.row.day;
    case 'alarms':
    case 'journal':
      return at;
  }
}

/** `motors`: whose alarms belong to a device; other subjects are of the node. Throws where a time is none. */
export function toReport(record: SinkRecord, motors: ReadonlySet<string>): Report {
  const { content, revision, isBacklog } = record;
  const at = timeOf(record);
  if (!Number.isSafeInteger(at) || at < 0) throw new RangeError(`${record.key}: ${at} is no time`);
  const common = { at, isBacklog, quality: Quality.good, isUncertain: false };
  switch (content.stream) {
    case 'rollups': {
      const [device, position] = splitSensor(content.row.sensor);
      const isUncertain = content.row.uncertainMs > 0;
      const place = { device, kind: 'rollup' as const, name: `${position}/${content.row.period}` };
      return { ...common, ...place, isUncertain, values: rollupValues(content.row, revision) };
    }
    case 'manifests': {
      const [device, position] = splitSensor(content.row.sensor);
      const name = `${position}/${content.row.period}/manifest`;
      return { ...common, device, kind: 'manifest', name, values: manifestValues(content.row, revision) };
    }
    case 'transients': {
      const quality = content.row === null ? Quality.bad : Quality.good;
      const place = { device: record.subject, kind: 'transient' as const, name: 'transient' };
      return { ...common, ...place, quality, values: transientValues(content.row, revision) };
    }
    case 'alarms': {
      const { motor, alarm } = content.row;
      const isOfMotor = motors.has(motor);
      const name = isOfMotor ? `alarm/${alarm}` : `${motor}/alarm/${alarm}`;
      const device = isOfMotor ? motor : '';
      return { ...common, device, kind: 'alarm', name, values: alarmValues(content.row, revision) };
    }
    case 'journal': {
      const values = journalValues(content.row, record.key, revision);
      return { ...common, device: '', kind: 'journal', name: 'journal', values };
    }
  }
}

function rollupValues(row: RollupRow, revision: number): MetricValue[] {
  const ms = row.ms[RUNNING]!;
  return [
    ms > 0 ? (row.pulses[RUNNING]! * MINUTE_MS) / ms : null,
    ...LEDGER_CLASS_NAMES.flatMap((_, i) => [row.pulses[i + 1]!, row.ms[i + 1]!]),
    ...[row.uncertainMs, revision, row.bins.length === 0 ? '[]' : JSON.stringify(row.bins)],
  ];
}

function transientValues(row: Transient | null, revision: number): MetricValue[] {
  if (row === null) return [null, null, null, null, true, revision];
  return [row.to, row.edges, row.kind, JSON.stringify(row.counts), false, revision];
}

function alarmValues(row: AlarmRecord, revision: number): MetricValue[] {
  const { state, priority, evidence, active, acknowledged, since } = row;
  return [
    ...[state, priority, evidence?.says ?? null, active, acknowledged, since],
    ...[evidence?.ratePerMin ?? null, evidence?.setpointPerMin ?? null, revision],
  ];
}

function journalValues(row: JournalEntry, key: string, revision: number): MetricValue[] {
  return [Number(key), row.subject, row.text, JSON.stringify(writeJournal(row)), revision];
}

function manifestValues(row: Manifest, revision: number): MetricValue[] {
  return [row.rows, row.pulses, row.ms, row.highestRevision, revision];
}
