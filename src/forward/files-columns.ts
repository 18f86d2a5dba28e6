/**
 * The columns of the files, by stream: names, types and units, and how a record becomes a row. The names are part of what
 * others rely on: they are added to, never changed. Times are UTC.
 */
import { LEDGER_CLASS_NAMES } from '../../shared/ledger-terms.js';
import { writeEvidence } from '../../shared/write-messages.js';
import type { Content, SinkRecord } from './sink.js';

export type Cell = string | number | boolean | null;
/** time: ms since the epoch here, a timestamp in the file; int: 64 bits */
export type ColumnType = 'text' | 'int' | 'time' | 'flag' | 'json';

export interface Column {
  readonly name: string;
  readonly type: ColumnType;
  /** '' : none */
  readonly unit: string;
}

/** In the order of the columns. */
export type Row = readonly Cell[];

const column = (name: string, type: ColumnType, unit = ''): Column => ({ name, type, unit });

/** First in every file. */
const FRAME: readonly Column[] = [
  column('key', 'text'),
  column('revision', 'int'),
  column('subject', 'text'),
  column('at', 'time', 'UTC'),
];
export const KEY = 0;
export const REVISION = 1;

const CLASS_COLUMNS = LEDGER_CLASS_NAMES.flatMap((name) => [
  column(`${name}_pulses`, 'int', 'pulses'),
  column(`${name}_ms`, 'int', 'ms'),
]);

const OWN: Readonly<Record<Content['stream'], readonly Column[]>> = {
  rollups: [
    ...[column('sensor', 'text'), column('period', 'text'), column('start', 'time', 'UTC')],
    ...CLASS_COLUMNS,
    ...[column('uncertain_ms', 'int', 'ms'), column('bins', 'json')],
  ],
  transients: [
    ...[column('motor', 'text'), column('from', 'time', 'UTC'), column('to', 'time', 'UTC')],
    ...[
      column('edges', 'int'),
      column('kind', 'text'),
      column('counts', 'json'),
      column('withdrawn', 'flag'),
    ],
  ],
  alarms: [
    ...[column('id', 'text'), column('motor', 'text'), column('alarm', 'text'), column('sensor', 'text')],
    ...[
      column('kind', 'text'),
      column('priority', 'text'),
      column('state', 'text'),
      column('active', 'flag'),
    ],
    ...[column('acknowledged', 'flag'), column('since', 'time', 'UTC'), column('acknowledged_by', 'text')],
    ...[column('note', 'text'), column('evidence', 'json')],
  ],
  journal: [
    ...[column('number', 'int'), column('detected_at', 'time', 'UTC'), column('kind', 'text')],
    ...[column('from', 'text'), column('to', 'text'), column('who', 'text'), column('text', 'text')],
    ...[column('what', 'text'), column('annunciated', 'flag'), column('configuration', 'text')],
    column('evidence', 'json'),
  ],
  manifests: [
    ...[column('sensor', 'text'), column('period', 'text'), column('day', 'time', 'UTC')],
    ...[column('rows', 'int'), column('pulses', 'int', 'pulses'), column('ms', 'int', 'ms')],
    column('highest_revision', 'int'),
  ],
};

export function columnsOf(stream: Content['stream']): readonly Column[] {
  return [...FRAME, ...OWN[stream]];
}

export function toRow({ content, key, revision, subject, at }: SinkRecord): Row {
  return [key, revision, subject, at, ...toCells(content, key)];
}

function toCells(content: Content, key: string): Cell[] {
  switch (content.stream) {
    case 'rollups': {
      const { sensor, period, start, pulses, ms, uncertainMs, bins } = content.row;
      const sums = LEDGER_CLASS_NAMES.flatMap((_, i) => [pulses[i + 1] ?? 0, ms[i + 1] ?? 0]);
      return [sensor, period, start, ...sums, uncertainMs, bins.length === 0 ? null : JSON.stringify(bins)];
    }
    case 'transients': {
      if (content.row === null) {
        const [motor = '', from] = key.split('|');
        return [motor, Number(from), null, null, null, null, true];
      }
      const { motor, from, to, edges, kind, counts } = content.row;
      return [motor, from, to, edges, kind, JSON.stringify(counts), false];
    }
    case 'alarms': {
      const { id, motor, alarm, sensor, kind, priority, state, active, acknowledged, since } = content.row;
      const { acknowledgedBy, note, evidence } = content.row;
      const frozen = evidence === null ? null : JSON.stringify(writeEvidence(evidence));
      return [
        id,
        motor,
        alarm,
        sensor,
        kind,
        priority,
        state,
        active,
        acknowledged,
        since,
        acknowledgedBy,
        note,
        frozen,
      ];
    }
    case 'journal': {
      const { detectedAt, kind, from, to, who, text, what, annunciated, configuration, evidence } =
        content.row;
      const frozen = evidence === null ? null : JSON.stringify(writeEvidence(evidence));
      return [Number(key), detectedAt, kind, from, to, who, text, what, annunciated, configuration, frozen];
    }
    case 'manifests': {
      const { sensor, period, day, rows, pulses, ms, highestRevision } = content.row;
      return [sensor, period, day, rows, pulses, ms, highestRevision];
    }
  }
}

/** Pulses and milliseconds of all classes in a row of rollups. */
export function sumRow(row: Row): { pulses: number; ms: number } {
  const first = FRAME.length + 3;
  let [pulses, ms] = [0, 0];
  for (let i = 0; i < LEDGER_CLASS_NAMES.length; i++) {
    pulses += Number(row[first + 2 * i]);
    ms += Number(row[first + 2 * i + 1]);
  }
  return { pulses, ms };
}
