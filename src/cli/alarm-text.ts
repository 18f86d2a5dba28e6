/** Alarms as text for people. `zone`: IANA zone of the site, in which times are told; null: it is not known, and they are in UTC. */
import type { HeldBy } from '../../shared/alarm-terms.js';
import type { AlarmMessage, EvidenceBody } from '../../shared/out-messages.js';
import { CAUTIONS } from '../advice/cautions.js';
import { writeDuration } from './duration-argument.js';
import { stampLocal } from './local-time.js';
import { TERMINAL_COLUMNS, wrapText, writeColumns } from './text-columns.js';

const INDENT = '    ';

/** In the order given: a line each, and below it what it is about. */
export function describeAlarms(alarms: readonly AlarmMessage[], zone: string | null): string {
  if (alarms.length === 0) return 'No such alarms.\n';
  const rows = alarms.map((alarm) => [
    alarm.id,
    alarm.priority,
    sayState(alarm, zone),
    sayTime(alarm.since, zone),
  ]);
  const [head, ...lines] = writeColumns(['alarm', 'priority', 'state', 'since'], rows).trimEnd().split('\n');
  const told = alarms.flatMap(({ evidence }, i) => [
    lines[i]!,
    ...(evidence === null
      ? []
      : wrapText(evidence.says, TERMINAL_COLUMNS - INDENT.length).map((line) => INDENT + line)),
  ]);
  return `${[head, ...told].join('\n')}\n`;
}

/** The state, with what lies underneath where it is hidden, and who answers for it where nobody acknowledged it. */
function sayState(alarm: AlarmMessage, zone: string | null): string {
  if (alarm.shelved_until !== null && alarm.state === 'shelved')
    return `shelved until ${sayTime(alarm.shelved_until, zone)}`;
  const isSpokenFor = alarm.grouped_under !== null && alarm.acknowledged_by === '';
  return isSpokenFor && alarm.state === 'acknowledged' ? 'grouped' : alarm.state;
}

function sayTime(time: string | null, zone: string | null): string {
  if (time === null) return '-';
  if (zone === null) return `${time.slice(0, 16)}Z`;
  const { day, clock, offset } = stampLocal(Date.parse(time), zone);
  return `${day} ${clock.slice(0, 5)} ${offset}`;
}

const HELD = {
  standing: 'it neither is raised nor returns while the motor stands',
  'run-state-unknown': 'it neither is raised nor returns while nobody reports whether the motor runs',
  'no-readings': 'it neither is raised nor returns while its sensor sends nothing',
} as const satisfies Readonly<Record<HeldBy, string>>;

/** What the operator needs to act on one alarm. */
export function describeAlarm(alarm: AlarmMessage, zone: string | null): string {
  const { evidence } = alarm;
  const parts: [string, string][] = [
    ['state', `${alarm.state}${alarm.active ? ', active' : ''}${alarm.latched ? ', latched' : ''}`],
    ['priority', `${alarm.priority}${alarm.class === '' ? '' : `, class ${alarm.class}`}`],
    ['since', alarm.since === null ? 'never raised' : sayTime(alarm.since, zone)],
    ['told', alarm.annunciated_at === null ? '' : sayTime(alarm.annunciated_at, zone)],
    ['why', evidence?.says ?? ''],
    ['consequence', alarm.consequence],
    ['action', alarm.action],
    ['respond within', sayWithin(alarm.time_to_respond_ms)],
    ...cautionsOf(alarm).map((text): [string, string] => ['caution', text]),
    ['rationale', alarm.rationale],
    ['acknowledged', alarm.acknowledged_by === '' ? '' : `by ${alarm.acknowledged_by}`],
    ['confirmed', alarm.confirmed_by === '' ? '' : `by ${alarm.confirmed_by}`],
    ['shelved', sayShelf(alarm, zone)],
    ['suppressed', alarm.suppressed_by ?? ''],
    ['out of service', sayOutOfService(alarm)],
    ['held', alarm.held_by === null ? '' : HELD[alarm.held_by]],
    ['grouped', alarm.grouped_under === null ? '' : `under ${alarm.grouped_under}, which stands for it`],
    ['note', alarm.note],
    ...(evidence === null ? [] : describeEvidence(evidence, zone)),
  ];
  const shown = parts.filter(([, value]) => value !== '');
  const width = Math.max(...shown.map(([name]) => name.length)) + 2;
  const lines = shown.flatMap(([name, value]) => {
    const [first = '', ...more] = wrapText(value, TERMINAL_COLUMNS - width - 2);
    return [`  ${name.padEnd(width)}${first}`, ...more.map((line) => ' '.repeat(width + 2) + line)];
  });
  return `${alarm.id}\n${lines.join('\n')}\n`;
}

function sayWithin(ms: number | null): string {
  return ms === null ? '' : writeDuration(ms);
}

/** Whoever acts on an alarm of a motor goes where shafts turn and terminals are live; and counts are easily over-read. */
function cautionsOf({ motor, evidence }: AlarmMessage): string[] {
  if (motor === 'gateway') return [];
  const isOfCounts = evidence !== null && evidence.exposure_ms > 0;
  const ids = [
    'licensed-persons',
    'rotating-shaft',
    'live-terminals',
    ...(isOfCounts ? ['count-is-no-severity'] : []),
  ];
  return CAUTIONS.filter(({ id }) => ids.includes(id)).map(({ text }) => text);
}

function sayShelf(
  { shelved_until, shelved_once, shelved_by, shelved_why }: AlarmMessage,
  zone: string | null,
): string {
  if (shelved_until === null) return '';
  return `until ${sayTime(shelved_until, zone)}${shelved_once ? ', or its next return' : ''}, by ${shelved_by}: ${shelved_why}`;
}

function sayOutOfService({ out_of_service, out_of_service_by, out_of_service_why }: AlarmMessage): string {
  return out_of_service ? `by ${out_of_service_by}: ${out_of_service_why}` : '';
}

function describeEvidence(evidence: EvidenceBody, zone: string | null): [string, string][] {
  const { rate_per_min, lower_per_min, upper_per_min, setpoint_per_min, deadband_per_min } = evidence;
  const figure = (value: number | null): string =>
    value === null ? '-' : String(Number(value.toPrecision(4)));
  const minutes = (ms: number): string => `${Number((ms / 60_000).toFixed(1))} min`;
  const rate = `${figure(rate_per_min)} per minute (${figure(lower_per_min)} to ${figure(upper_per_min)})`;
  const states = evidence.run_states.map(({ from, state }) => `${sayClock(from, zone)} ${state}`);
  return [
    ['evidence', `${sayTime(evidence.from, zone)} to ${sayTime(evidence.to, zone)}`],
    [
      'counted',
      evidence.exposure_ms === 0 ? '' : `${evidence.pulses} in ${minutes(evidence.exposure_ms)} of running`,
    ],
    [
      'rate',
      rate_per_min === null || evidence.confidence === null
        ? ''
        : `${rate}, ${Number((100 * evidence.confidence).toPrecision(6))} % limits, dispersion ${figure(evidence.dispersion)}`,
    ],
    [
      'setpoint',
      setpoint_per_min === null
        ? ''
        : `${figure(setpoint_per_min)} per minute, deadband ${figure(deadband_per_min)}`,
    ],
    ['delays', `on ${minutes(evidence.on_delay_ms)}, off ${minutes(evidence.off_delay_ms)}`],
    ['run states', states.join(', ')],
    ['configuration', evidence.configuration],
  ];
}

function sayClock(time: string, zone: string | null): string {
  return zone === null ? `${time.slice(11, 19)}Z` : stampLocal(Date.parse(time), zone).clock;
}

/** What came of an act on one alarm. */
export interface Outcome {
  readonly id: string;
  readonly done: boolean;
  /** null: there is no such alarm */
  readonly state: string | null;
  readonly reason: string;
  readonly says: string;
}

export function describeOutcomes(outcomes: readonly Outcome[]): string {
  if (outcomes.length === 0) return 'Nothing waits for it.\n';
  return outcomes
    .map(({ id, done, state, says }) => (done ? `${id}: ${state}\n` : `${id}: not done. ${says}\n`))
    .join('');
}
