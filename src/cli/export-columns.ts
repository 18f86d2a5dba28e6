/**
 * The columns of every export, in their fixed order; documented in docs/export.md. New ones go to the end.
 * No column is an internal number, so that equal final states export equal bytes; but for the numbers of the journal, which
 * its chain is made of.
 */
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';
import { writeEvidence } from '../../shared/write-messages.js';
import type { AlarmRecord, Evidence, JournalEntry } from '../core/alarm-rows.js';
import type { Transient } from '../core/rows.js';
import { Class, CLASS_NAMES, LEDGER_CLASSES } from '../core/words.js';
import type { JournalRow } from '../store/read-journal.js';
import type { IncrementRecord } from '../store/reader.js';
import type { RollupRow } from '../store/writer.js';
import type { Column } from './table-text.js';

const MS_PER_MIN = 60_000;

/** A transient and one sensor's share of it; `sensor` '': nobody counted in it. */
export interface TransientLine {
  readonly motor: string;
  readonly from: number;
  readonly to: number;
  readonly kind: string;
  readonly edges: number;
  readonly sensor: string;
  readonly pulses: number;
  readonly ms: number;
}

function writeEvidenceText(evidence: Evidence | null): string | null {
  return evidence === null ? null : JSON.stringify(writeEvidence(evidence));
}

export const INCREMENT_COLUMNS: readonly Column<IncrementRecord>[] = [
  { name: 'sensor', take: (row) => row.sensor },
  { name: 'from', take: (row) => formatUtc(row.from) },
  { name: 'to', take: (row) => formatUtc(row.to) },
  { name: 'device', take: (row) => row.device },
  { name: 'boot', take: (row) => row.boot },
  { name: 'seq', take: (row) => row.seq },
  { name: 'count', take: (row) => row.count },
  { name: 'pulses', take: (row) => row.pulses },
  { name: 'ms', take: (row) => row.ms },
  { name: 'class', take: (row) => row.class },
  { name: 'reason', take: (row) => row.reason },
  { name: 'quality', take: (row) => row.quality },
  { name: 'temperature_c', take: (row) => row.temperatureC },
  { name: 'bin', take: (row) => row.bin },
];

const classColumns: readonly Column<RollupRow>[] = LEDGER_CLASSES.flatMap((c) => [
  { name: `${CLASS_NAMES[c]}_pulses`, take: (row: RollupRow) => row.pulses[c] ?? 0 },
  { name: `${CLASS_NAMES[c]}_ms`, take: (row: RollupRow) => row.ms[c] ?? 0 },
]);

function ratePerMin(row: RollupRow): number | null {
  const ms = row.ms[Class.running] ?? 0;
  return ms <= 0 ? null : ((row.pulses[Class.running] ?? 0) * MS_PER_MIN) / ms;
}

/** null: one bin, `all`. */
function writeBinsText({ bins }: RollupRow): string | null {
  return bins.length === 0 ? null : JSON.stringify(bins.map(({ bin, pulses, ms }) => ({ bin, pulses, ms })));
}

export const ROLLUP_COLUMNS: readonly Column<RollupRow>[] = [
  { name: 'sensor', take: (row) => row.sensor },
  { name: 'period', take: (row) => row.period },
  { name: 'start', take: (row) => formatUtc(row.start) },
  ...classColumns,
  { name: 'uncertain_ms', take: (row) => row.uncertainMs },
  { name: 'rate_per_min', take: ratePerMin },
  { name: 'revision', take: (row) => row.revision },
  { name: 'bins', take: writeBinsText },
];

/** Without what only tells in which order messages came. */
export const FINAL_ROLLUP_COLUMNS = ROLLUP_COLUMNS.filter((column) => column.name !== 'revision');

/** True when nothing was counted, for no time: such a period says nothing and is left out. */
export function isEmptyRollup(row: RollupRow): boolean {
  return LEDGER_CLASSES.every((c) => (row.pulses[c] ?? 0) === 0 && (row.ms[c] ?? 0) === 0);
}

/** One line per sensor that counted in it, in alphabetical order; one with an empty sensor where none did. */
export function spreadTransient(row: Transient): TransientLine[] {
  const { motor, from, to, kind, edges } = row;
  const counts = row.counts.length === 0 ? [{ sensor: '', pulses: 0, ms: 0 }] : row.counts;
  const lines = counts.map(({ sensor, pulses, ms }) => ({
    motor,
    from,
    to,
    kind,
    edges,
    sensor,
    pulses,
    ms,
  }));
  return lines.sort((a, b) => (a.sensor < b.sensor ? -1 : 1));
}

export const TRANSIENT_COLUMNS: readonly Column<TransientLine>[] = [
  { name: 'motor', take: (row) => row.motor },
  { name: 'from', take: (row) => formatUtc(row.from) },
  { name: 'to', take: (row) => formatUtc(row.to) },
  { name: 'kind', take: (row) => row.kind },
  { name: 'edges', take: (row) => row.edges },
  { name: 'sensor', take: (row) => row.sensor },
  { name: 'pulses', take: (row) => row.pulses },
  { name: 'ms', take: (row) => row.ms },
];

export const ALARM_COLUMNS: readonly Column<AlarmRecord>[] = [
  { name: 'id', take: (row) => row.id },
  { name: 'motor', take: (row) => row.motor },
  { name: 'alarm', take: (row) => row.alarm },
  { name: 'sensor', take: (row) => row.sensor },
  { name: 'kind', take: (row) => row.kind },
  { name: 'priority', take: (row) => row.priority },
  { name: 'state', take: (row) => row.state },
  { name: 'active', take: (row) => row.active },
  { name: 'acknowledged', take: (row) => row.acknowledged },
  { name: 'since', take: (row) => formatUtcOrNull(row.since) },
  { name: 'acknowledged_by', take: (row) => row.acknowledgedBy },
  { name: 'note', take: (row) => row.note },
  { name: 'evidence', take: (row) => writeEvidenceText(row.evidence) },
  { name: 'latched', take: (row) => row.latched },
  { name: 'annunciated_at', take: (row) => formatUtcOrNull(row.annunciatedAt) },
  { name: 'confirmed', take: (row) => row.confirmed },
  { name: 'confirmed_by', take: (row) => row.confirmedBy },
  { name: 'shelved_until', take: (row) => formatUtcOrNull(row.shelvedUntil) },
  { name: 'shelved_once', take: (row) => row.shelvedOnce },
  { name: 'shelved_by', take: (row) => row.shelvedBy },
  { name: 'shelved_why', take: (row) => row.shelvedWhy },
  { name: 'suppressed_by', take: (row) => row.suppressedBy },
  { name: 'out_of_service', take: (row) => row.outOfService },
  { name: 'out_of_service_by', take: (row) => row.outOfServiceBy },
  { name: 'out_of_service_why', take: (row) => row.outOfServiceWhy },
  { name: 'held_by', take: (row) => row.heldBy },
  { name: 'grouped_under', take: (row) => row.groupedUnder },
];

export const JOURNAL_COLUMNS: readonly Column<JournalEntry>[] = [
  { name: 'at', take: (row) => formatUtc(row.at) },
  { name: 'detected_at', take: (row) => formatUtc(row.detectedAt) },
  { name: 'kind', take: (row) => row.kind },
  { name: 'subject', take: (row) => row.subject },
  { name: 'from', take: (row) => row.from },
  { name: 'to', take: (row) => row.to },
  { name: 'who', take: (row) => row.who },
  { name: 'text', take: (row) => row.text },
  { name: 'evidence', take: (row) => writeEvidenceText(row.evidence) },
  { name: 'what', take: (row) => row.what },
  { name: 'annunciated', take: (row) => row.annunciated },
  { name: 'configuration', take: (row) => row.configuration },
];

/** With number and digest, for whoever wants to compare it with the journal as it is later. */
export const CHAINED_JOURNAL_COLUMNS: readonly Column<JournalRow>[] = [
  ...JOURNAL_COLUMNS,
  { name: 'id', take: (row) => row.id },
  { name: 'digest', take: (row) => row.digest },
];
