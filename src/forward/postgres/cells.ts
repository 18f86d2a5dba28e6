/** A record as the cells of its table, in the order of `Table.columns`. */
import { writeEvidence, type AdviceRow } from '../../../shared/write-messages.js';
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { AlarmRecord, Evidence, JournalEntry } from '../../core/alarm-rows.js';
import type { Transient } from '../../core/rows.js';
import type { RollupRow } from '../../store/rollup-row.js';
import type { Manifest, SinkParts, SinkRecord } from '../sink.js';
import type { Cell } from './copy-text.js';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
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

/** The day that was written last: rows come nearly in order of time, and dates are dear. */
let lastDay = { number: Number.NaN, text: '' };

function toTime(ms: number | null): Cell {
  if (ms === null) return null;
  if (!Number.isInteger(ms) || Math.abs(ms) > TIME_MAX) return ms;
  const number = Math.floor(ms / DAY_MS);
  if (number !== lastDay.number)
    lastDay = { number, text: new Date(number * DAY_MS).toISOString().replace('T00:00:00.000Z', ' ') };
  const rest = ms - number * DAY_MS;
  const seconds = Math.floor(rest / 1_000);
  const clock = `${Math.floor(seconds / 3_600)}:${Math.floor(seconds / 60) % 60}:${seconds % 60}`;
  const part = rest % 1_000;
  return `${lastDay.text}${clock}${part === 0 ? '' : `.${String(part).padStart(3, '0')}`}+00`;
}

function toRollup(row: RollupRow, revision: number): Cell[] {
  const runningMs = row.ms[RUNNING]!;
  const rate = runningMs > 0 ? (row.pulses[RUNNING]! / runningMs) * MINUTE_MS : null;
  const [, p1, p2, p3, p4, p5, p6, p7] = row.pulses;
  const [, m1, m2, m3, m4, m5, m6, m7] = row.ms;
  // in one piece, by number of the class: this is the path that a backlog takes
  return [
    ...[row.sensor, row.period, toTime(row.start), revision, rate],
    ...[p1!, m1!, p2!, m2!, p3!, m3!, p4!, m4!, p5!, m5!, p6!, m6!, p7!, m7!],
    ...[row.uncertainMs, row.bins.length === 0 ? '[]' : JSON.stringify(row.bins)],
  ];
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
