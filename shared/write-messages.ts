/**
 * From the gateway's rows (milliseconds, arrays by class) to messages (RFC 3339, snake case).
 * The rows are described here by the shape that a message needs, because the contract knows no other part of the program.
 */
import { LEDGER_CLASS_NAMES, type LedgerClassName } from './ledger-terms.js';
import type { AlarmStateName, AlarmPriority, HeldBy, JournalChange, JournalKind } from './alarm-terms.js';
import type { QualityName } from './ledger-terms.js';
import type {
  AlarmMessage,
  ClassesBody,
  EvidenceBody,
  GatewayPresenceMessage,
  JournalMessage,
  RateMessage,
  RollupMessage,
} from './out-messages.js';
import { formatUtc, formatUtcOrNull } from './time.js';
import type { PeriodName } from './topics.js';

const MS_PER_MIN = 60_000;
const PERIOD_MS: Readonly<Record<PeriodName, number>> = {
  '10s': 10_000,
  '1m': MS_PER_MIN,
  '10m': 10 * MS_PER_MIN,
  '1h': 60 * MS_PER_MIN,
};
/** Number of the class `running` in arrays by class. */
const RUNNING = LEDGER_CLASS_NAMES.indexOf('running') + 1;

/** Pulses and milliseconds by number of the class: places 1 to 7 in the order of `LEDGER_CLASS_NAMES`. */
export interface SumsRow {
  readonly pulses: readonly number[];
  readonly ms: readonly number[];
  readonly uncertainMs: number;
}

export interface RateRow {
  readonly sensor: string;
  readonly window: SumsRow & { readonly start: number };
  readonly from: number;
  readonly to: number;
  readonly pulses: number;
  readonly exposureMs: number;
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly dispersion: number;
  readonly quality: QualityName;
}

export interface RollupRow extends SumsRow {
  readonly sensor: string;
  readonly period: PeriodName;
  readonly start: number;
  readonly revision: number;
  /** running sums by condition bin; empty: one bin, `all` */
  readonly bins: readonly { readonly bin: string; readonly pulses: number; readonly ms: number }[];
}

export interface EvidenceRow {
  readonly from: number;
  readonly to: number;
  readonly pulses: number;
  readonly exposureMs: number;
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly dispersion: number | null;
  readonly confidence: number | null;
  readonly setpointPerMin: number | null;
  readonly deadbandPerMin: number | null;
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly strip: readonly {
    readonly from: number;
    readonly to: number;
    readonly state: EvidenceBody['run_states'][number]['state'];
    readonly modulating: boolean;
  }[];
  readonly configuration: string;
  readonly says: string;
}

export interface AlarmRow {
  readonly id: string;
  readonly motor: string;
  readonly alarm: string;
  readonly sensor: string | null;
  readonly kind: string;
  readonly priority: AlarmPriority;
  readonly state: AlarmStateName;
  readonly active: boolean;
  readonly acknowledged: boolean;
  readonly confirmed: boolean;
  readonly latched: boolean;
  readonly shelvedUntil: number | null;
  readonly shelvedOnce: boolean;
  readonly shelvedBy: string;
  readonly shelvedWhy: string;
  readonly suppressedBy: string | null;
  readonly outOfService: boolean;
  readonly outOfServiceBy: string;
  readonly outOfServiceWhy: string;
  readonly heldBy: HeldBy | null;
  readonly groupedUnder: string | null;
  readonly annunciatedAt: number | null;
  readonly since: number | null;
  readonly acknowledgedBy: string;
  readonly confirmedBy: string;
  readonly note: string;
  readonly evidence: EvidenceRow | null;
}

export interface JournalRow {
  readonly at: number;
  readonly detectedAt: number;
  readonly kind: JournalKind;
  readonly subject: string;
  readonly from: string;
  readonly to: string;
  readonly who: string;
  readonly text: string;
  readonly what: JournalChange;
  readonly annunciated: boolean;
  readonly configuration: string;
  readonly evidence: EvidenceRow | null;
}

export function writeGatewayPresence(
  online: boolean,
  at: number,
  version: string,
  configuration: string,
  floodSince: number | null,
): GatewayPresenceMessage {
  return {
    online,
    at: formatUtc(at),
    version,
    configuration,
    flood_since: formatUtcOrNull(floodSince),
  };
}

export function writeClasses(sums: SumsRow): ClassesBody {
  const entries = LEDGER_CLASS_NAMES.map((name, index) => [
    name,
    { pulses: sums.pulses[index + 1] ?? 0, ms: sums.ms[index + 1] ?? 0 },
  ]);
  return Object.fromEntries(entries) as Record<LedgerClassName, { pulses: number; ms: number }>;
}

export function writeRate(row: RateRow): RateMessage {
  const { window } = row;
  return {
    sensor: row.sensor,
    window: {
      start: formatUtc(window.start),
      end: formatUtc(window.start + PERIOD_MS['10s']),
      classes: writeClasses(window),
      uncertain_ms: window.uncertainMs,
    },
    from: formatUtc(row.from),
    to: formatUtc(row.to),
    pulses: row.pulses,
    exposure_ms: row.exposureMs,
    rate_per_min: row.ratePerMin,
    lower_per_min: row.lowerPerMin,
    upper_per_min: row.upperPerMin,
    dispersion: row.dispersion,
    quality: row.quality,
  };
}

export function writeRollup(row: RollupRow): RollupMessage {
  const runningMs = row.ms[RUNNING] ?? 0;
  return {
    sensor: row.sensor,
    period: row.period,
    start: formatUtc(row.start),
    end: formatUtc(row.start + PERIOD_MS[row.period]),
    revision: row.revision,
    classes: writeClasses(row),
    rate_per_min: runningMs === 0 ? null : ((row.pulses[RUNNING] ?? 0) * MS_PER_MIN) / runningMs,
    uncertain_ms: row.uncertainMs,
    ...(row.bins.length === 0 ? {} : { bins: row.bins.map(({ bin, pulses, ms }) => ({ bin, pulses, ms })) }),
  };
}

export function writeEvidence(row: EvidenceRow): EvidenceBody {
  return {
    from: formatUtc(row.from),
    to: formatUtc(row.to),
    pulses: row.pulses,
    exposure_ms: row.exposureMs,
    rate_per_min: row.ratePerMin,
    lower_per_min: row.lowerPerMin,
    upper_per_min: row.upperPerMin,
    dispersion: row.dispersion,
    confidence: row.confidence,
    setpoint_per_min: row.setpointPerMin,
    deadband_per_min: row.deadbandPerMin,
    on_delay_ms: row.onDelayMs,
    off_delay_ms: row.offDelayMs,
    run_states: row.strip.map(({ from, to, state, modulating }) => ({
      from: formatUtc(from),
      to: formatUtc(to),
      state,
      modulating,
    })),
    configuration: row.configuration,
    says: row.says,
  };
}

/** What the configuration says of an alarm; empty texts, and no time, for one that it no longer names. */
export interface AdviceRow {
  readonly consequence: string;
  readonly action: string;
  readonly rationale: string;
  readonly class: string;
  readonly timeToRespondMs: number | null;
}

export function writeAlarm(row: AlarmRow, advice: AdviceRow): AlarmMessage {
  return {
    id: row.id,
    motor: row.motor,
    alarm: row.alarm,
    sensor: row.sensor,
    kind: row.kind,
    priority: row.priority,
    state: row.state,
    active: row.active,
    acknowledged: row.acknowledged,
    confirmed: row.confirmed,
    latched: row.latched,
    shelved_until: formatUtcOrNull(row.shelvedUntil),
    shelved_once: row.shelvedOnce,
    shelved_by: row.shelvedBy,
    shelved_why: row.shelvedWhy,
    suppressed_by: row.suppressedBy,
    out_of_service: row.outOfService,
    out_of_service_by: row.outOfServiceBy,
    out_of_service_why: row.outOfServiceWhy,
    held_by: row.heldBy,
    grouped_under: row.groupedUnder,
    annunciated_at: formatUtcOrNull(row.annunciatedAt),
    since: formatUtcOrNull(row.since),
    acknowledged_by: row.acknowledgedBy,
    confirmed_by: row.confirmedBy,
    note: row.note,
    consequence: advice.consequence,
    action: advice.action,
    rationale: advice.rationale,
    class: advice.class,
    time_to_respond_ms: advice.timeToRespondMs,
    evidence: row.evidence === null ? null : writeEvidence(row.evidence),
  };
}

export function writeJournal(row: JournalRow): JournalMessage {
  return {
    at: formatUtc(row.at),
    detected_at: formatUtc(row.detectedAt),
    kind: row.kind,
    subject: row.subject,
    from: row.from,
    to: row.to,
    who: row.who,
    text: row.text,
    what: row.what,
    annunciated: row.annunciated,
    configuration: row.configuration,
    evidence: row.evidence === null ? null : writeEvidence(row.evidence),
  };
}
