/** From rows (milliseconds, camel case) to the bodies that only HTTP has; the others are written by the contract. */
import type { AlarmMessage } from '../../shared/out-messages.js';
import { formatUtc } from '../../shared/time.js';
import { writeAlarm, writeClasses } from '../../shared/write-messages.js';
import { findAdvice } from '../core/alarm-advice.js';
import type { Plan } from '../core/plan.js';
import type { AlarmRecord } from '../core/alarm-rows.js';
import type { Transient } from '../core/rows.js';
import type { DiagnosticRow, LedgerRow, QuarantineRow } from './deps.js';

type Body = Record<string, unknown>;

export function toTransientBody(row: Transient): Body {
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

/** `plan` supplies what the configuration says about the alarm; one that it no longer names has empty advice. */
export function toAlarmBody(alarm: AlarmRecord, plan: Plan): AlarmMessage {
  return writeAlarm(alarm, findAdvice(plan, alarm.id));
}

/** An alarm without who did what to it, and why. */
export function veilPersons(alarm: AlarmMessage): AlarmMessage {
  const names = { acknowledged_by: '', confirmed_by: '', shelved_by: '', out_of_service_by: '' };
  return { ...alarm, ...names, shelved_why: '', out_of_service_why: '', note: '' };
}

export function toLedgerBody(row: LedgerRow): Body {
  return {
    sensor: row.sensor,
    balanced: row.balanced,
    counted: row.counted,
    classified: row.classified,
    pending: row.pending,
    classes: writeClasses({ pulses: row.pulses, ms: row.ms, uncertainMs: 0 }),
    unknown: row.unknown.map((each) => ({ ...each, from: formatUtc(each.from), to: formatUtc(each.to) })),
  };
}

export function toDiagnosticBody(row: DiagnosticRow): Body {
  return {
    subject: row.subject,
    kind: row.kind,
    count: row.count,
    first_at: formatUtc(row.firstAt),
    last_at: formatUtc(row.lastAt),
    detail: row.detail,
  };
}

export function toQuarantineBody(row: QuarantineRow): Body {
  return {
    at: formatUtc(row.at),
    reason: row.reason,
    topic: row.topic,
    client: row.client,
    size: row.size,
    first_bytes: Buffer.from(row.firstBytes).toString('base64'),
  };
}
