/** A record as the cells of its table, in the order of `Table.columns`. */
import { writeEvidence, type AdviceRow } from '../../../shared/write-messages.js';
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { AlarmRecord, Evidence, JournalEntry } from '../../core/alarm-rows.js';
import type { Transient } from '../../core/rows.js';
import type { RollupRow } from '../../store/rollup-row.js';
import type { Manifest, SinkParts, SinkRecord } from '../sink.js';
import type { Cell } from './copy-text.js';

const MINUTE_MS = 60_000;
const CLASSES = LEDGER_CLASS_NAMES.map((name, i) => ({ name, number: i + 1 }));
const RUNNING = LEDGER_CLASS_NAMES.indexOf('running') + 1;
/** ECMAScript's own limit: beyond it there is no date to write, and the receiver is left to refuse the number. */
const TIME_MAX = 8.64e15;

export function toCells({ content, key, revision, at }: SinkRecord, adviceOf: SinkParts['adviceOf']): Cell[] {
  switch (content.stream) {
    case 'rollups':
      return toRollup(content.row, revision);
    case 'transients':
      return toTransient(content.row, key, revision);
    case 'alarms':
      return toAlarm(content.row, revision, at, adviceOf(content.row.id));
    case 'journal':
      return toEntry(content.row, key, revision);
    case 'manifests':
      return toManifest(content.row, revision);
  }
}

function toTime(ms: number | null): Cell {
  if (ms === null) return null;
  return Number.isInteger(ms) && Math.abs(ms) <= TIME_MAX ? new Date(ms).toISOString() : ms;
}

function toRollup(row: RollupRow, revision: number): Cell[] {
  const runningMs = row.ms[RUNNING]!;
  const rate = runningMs > 0 ? (row.pulses[RUNNING]! / runningMs) * MINUTE_MS : null;
  const cells: Cell[] = [row.sensor, row.period, toTime(row.start), revision, rate];
  for (const { number } of CLASSES) cells.push(row.pulses[number]!, row.ms[number]!);
  cells.push(row.uncertainMs, row.bins.length === 0 ? '[]' : JSON.stringify(row.bins));
  return cells;
}

/** The key says whose it is when the store holds it no more. */
function toTransient(row: Transient | null, key: string, revision: number): Cell[] {
  const cut = key.lastIndexOf('|');
  const whose = [key.slice(0, cut), toTime(Number(key.slice(cut + 1)))];
  if (row === null) return [...whose, revision, true, null, null, null, null];
  return [...whose, revision, false, toTime(row.to), row.edges, row.kind, JSON.stringify(row.counts)];
}

function toJson(evidence: Evidence | null): Cell {
  return evidence === null ? null : JSON.stringify(writeEvidence(evidence));
}

function toAlarm(row: AlarmRecord, revision: number, at: number, advice: AdviceRow): Cell[] {
  return [
    ...[row.id, revision, toTime(at), row.motor, row.alarm, row.sensor, row.kind, row.priority, row.state],
    ...[row.active, row.acknowledged, row.confirmed, row.latched, toTime(row.since)],
    ...[toTime(row.shelvedUntil), row.suppressedBy, row.outOfService, row.heldBy, row.groupedUnder],
    ...[row.acknowledgedBy, row.note, advice.consequence, advice.action, advice.class],
    ...[advice.timeToRespondMs, toJson(row.evidence)],
  ];
}

function toEntry(row: JournalEntry, key: string, revision: number): Cell[] {
  return [
    ...[key, revision, toTime(row.at), toTime(row.detectedAt), row.kind, row.subject, row.from, row.to],
    ...[row.who, row.text, row.what, row.annunciated, row.configuration, toJson(row.evidence)],
  ];
}

function toManifest(row: Manifest, revision: number): Cell[] {
  return [
    ...[row.sensor, row.period, new Date(row.day).toISOString().slice(0, 10), revision],
    ...[row.rows, row.pulses, row.ms, row.highestRevision],
  ];
}
