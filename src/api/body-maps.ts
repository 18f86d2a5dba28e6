/** From rows (milliseconds, camel case) to bodies (RFC 3339, snake case). */
import type { RateAlarmPlan, ConditionAlarmPlan, Plan } from '../core/plan.js';
import type { AlarmRecord, Evidence, JournalEntry, RateNow, Transient } from '../core/rows.js';
import { Class, CLASS_NAMES, LEDGER_CLASSES } from '../core/words.js';
import type { DiagnosticRow, LedgerRow, QuarantineRow, RollupRow } from './deps.js';
import { formatUtc, formatUtcOrNull } from '../../shared/time.js';

const MS_PER_MIN = 60_000;

export function toRateBody(rate: RateNow): Record<string, unknown> {
  return {
    from: formatUtc(rate.from),
    to: formatUtc(rate.to),
    pulses: rate.pulses,
    exposure_ms: rate.exposureMs,
    rate_per_min: rate.ratePerMin,
    lower_per_min: rate.lowerPerMin,
    upper_per_min: rate.upperPerMin,
    dispersion: rate.dispersion,
    quality: rate.quality,
  };
}

function toClassSums(
  pulses: readonly number[],
  ms: readonly number[],
): Record<string, { pulses: number; ms: number }> {
  return Object.fromEntries(
    LEDGER_CLASSES.map((c) => [CLASS_NAMES[c], { pulses: pulses[c] ?? 0, ms: ms[c] ?? 0 }]),
  );
}

export function toRollupBody(row: RollupRow): Record<string, unknown> {
  const ms = row.ms[Class.running] ?? 0;
  return {
    sensor: row.sensor,
    period: row.period,
    start: formatUtc(row.start),
    classes: toClassSums(row.pulses, row.ms),
    rate_per_min: ms === 0 ? null : ((row.pulses[Class.running] ?? 0) * MS_PER_MIN) / ms,
    uncertain_ms: row.uncertainMs,
    revision: row.revision,
  };
}

export function toTransientBody(row: Transient): Record<string, unknown> {
  return {
    motor: row.motor,
    from: formatUtc(row.from),
    to: formatUtc(row.to),
    kind: row.kind,
    edges: row.edges,
    pulses: row.counts.reduce((sum, each) => sum + each.pulses, 0),
    counts: row.counts.map(({ sensor, pulses, ms }) => ({ sensor, pulses, ms })),
  };
}

export function toEvidenceBody(evidence: Evidence | null): Record<string, unknown> | null {
  if (evidence === null) return null;
  return {
    from: formatUtc(evidence.from),
    to: formatUtc(evidence.to),
    pulses: evidence.pulses,
    exposure_ms: evidence.exposureMs,
    rate_per_min: evidence.ratePerMin,
    lower_per_min: evidence.lowerPerMin,
    upper_per_min: evidence.upperPerMin,
    dispersion: evidence.dispersion,
    confidence: evidence.confidence,
    setpoint_per_min: evidence.setpointPerMin,
    deadband_per_min: evidence.deadbandPerMin,
    on_delay_ms: evidence.onDelayMs,
    off_delay_ms: evidence.offDelayMs,
    run_states: evidence.strip.map((s) => ({ ...s, from: formatUtc(s.from), to: formatUtc(s.to) })),
    configuration: evidence.configuration,
    says: evidence.says,
  };
}

/** `plan` supplies what the configuration says about the alarm; an alarm that is no longer configured has neither. */
export function toAlarmBody(alarm: AlarmRecord, plan: Plan): Record<string, unknown> {
  const planned: RateAlarmPlan | ConditionAlarmPlan | undefined =
    plan.rateAlarms.find((a) => a.id === alarm.id) ?? plan.conditionAlarms.find((a) => a.id === alarm.id);
  return {
    id: alarm.id,
    motor: alarm.motor,
    alarm: alarm.alarm,
    sensor: alarm.sensor,
    kind: alarm.kind,
    priority: alarm.priority,
    state: alarm.state,
    active: alarm.active,
    acknowledged: alarm.acknowledged,
    since: formatUtcOrNull(alarm.since),
    acknowledged_by: alarm.acknowledgedBy,
    note: alarm.note,
    consequence: planned?.consequence ?? '',
    action: planned?.action ?? '',
    evidence: toEvidenceBody(alarm.evidence),
  };
}

export function toJournalBody(entry: JournalEntry): Record<string, unknown> {
  return {
    at: formatUtc(entry.at),
    detected_at: formatUtc(entry.detectedAt),
    kind: entry.kind,
    subject: entry.subject,
    from: entry.from,
    to: entry.to,
    who: entry.who,
    text: entry.text,
    evidence: toEvidenceBody(entry.evidence),
  };
}

export function toLedgerBody(row: LedgerRow): Record<string, unknown> {
  return {
    sensor: row.sensor,
    balanced: row.balanced,
    counted: row.counted,
    classified: row.classified,
    pending: row.pending,
    classes: toClassSums(row.pulses, row.ms),
    unknown: row.unknown.map((u) => ({ ...u, from: formatUtc(u.from), to: formatUtc(u.to) })),
  };
}

export function toDiagnosticBody(row: DiagnosticRow): Record<string, unknown> {
  return {
    subject: row.subject,
    kind: row.kind,
    count: row.count,
    first_at: formatUtc(row.firstAt),
    last_at: formatUtc(row.lastAt),
    detail: row.detail,
  };
}

export function toQuarantineBody(row: QuarantineRow): Record<string, unknown> {
  return {
    at: formatUtc(row.at),
    reason: row.reason,
    topic: row.topic,
    client: row.client,
    size: row.size,
    first_bytes: Buffer.from(row.firstBytes).toString('base64'),
  };
}
