/**
 * The tables at the receiver, as data: from this one description come the statements that create them, the check of what
 * is there, the staging tables and the merge. Times are timestamptz in UTC, milliseconds are bigint, null is not known.
 */
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { Stream } from '../sink.js';

export interface Column {
  readonly name: string;
  /** as PostgreSQL's `format_type` writes it */
  readonly type: string;
  readonly isNullable: boolean;
  /** with its unit; becomes the comment on the column */
  readonly comment: string;
}

export interface Table {
  readonly name: string;
  readonly comment: string;
  /** without `site`, which leads every table, and `received_at`, which ends it: the receiver fills both */
  readonly columns: readonly Column[];
  /** behind `site`; a row is replaced under it by a higher revision */
  readonly key: readonly string[];
}

const text = 'text';
const bigint = 'bigint';
const time = 'timestamp with time zone';
const boolean = 'boolean';
const rate = 'double precision';
const jsonb = 'jsonb';

function needed(name: string, type: string, comment: string): Column {
  return { name, type, isNullable: false, comment };
}

function optional(name: string, type: string, comment: string): Column {
  return { name, type, isNullable: true, comment };
}

const REVISION = needed('revision', bigint, 'A row is replaced only by a higher one.');
const SENSOR = needed('sensor', text, '<motor>/<position>');
const PERIOD = needed('period', text, '1m, 10m or 1h');

const SUMS = LEDGER_CLASS_NAMES.flatMap((name) => [
  needed(`pulses_${name}`, bigint, `Pulses of the class ${name}.`),
  needed(`ms_${name}`, bigint, `Exposure of the class ${name}, milliseconds.`),
]);

const ROLLUPS: Table = {
  name: 'rollups',
  comment: 'Sums over a period, one row for each sensor, period and start.',
  key: ['sensor', 'period', 'start'],
  columns: [
    SENSOR,
    PERIOD,
    needed('start', time, 'Start of the period, UTC.'),
    REVISION,
    optional(
      'rate_per_min',
      rate,
      'Running pulses over running exposure, pulses per minute; null: no running exposure, which is not zero.',
    ),
    ...SUMS,
    needed('uncertain_ms', bigint, 'Milliseconds of any class whose time is uncertain.'),
    needed('bins', jsonb, 'Running pulses and ms by condition bin; []: all in one bin.'),
  ],
};

const TRANSIENTS: Table = {
  name: 'transients',
  comment: 'A start, a stop, or a merged run of them, guards included.',
  key: ['motor', 'began_at'],
  columns: [
    needed('motor', text, 'Whose drive started or stopped.'),
    needed('began_at', time, 'Start of the guard before it, UTC.'),
    REVISION,
    needed('withdrawn', boolean, 'True: later readings showed that it was none; the other columns are null.'),
    optional('ended_at', time, 'End of the guard after it, UTC.'),
    optional('edges', bigint, 'Changes of state that were merged into it.'),
    optional('kind', text, 'start, stop, start-stop or other'),
    optional('counts', jsonb, 'What each sensor counted in it: [{"sensor", "pulses", "ms"}].'),
  ],
};

const ALARMS: Table = {
  name: 'alarms',
  comment: 'Each alarm as it stands; what led to it is in the journal.',
  key: ['id'],
  columns: [
    needed('id', text, '<motor>.<alarm>'),
    REVISION,
    needed('at', time, 'Of its last change, UTC.'),
    needed('motor', text, 'Motor, zone or gateway.'),
    needed('alarm', text, 'Name of the alarm at its motor.'),
    optional('sensor', text, 'Null: it is not of one sensor.'),
    needed('kind', text, 'What it is about, such as rate-high.'),
    needed('priority', text, 'low, medium or high'),
    needed('state', text, 'As the operator sees it, such as unacknowledged or shelved.'),
    needed('active', boolean, 'Whether the condition stands.'),
    needed('acknowledged', boolean, 'Whether a person has acknowledged this activation.'),
    needed('confirmed', boolean, 'The corrective action was taken; true while none is asked for.'),
    needed('latched', boolean, 'It stays after the return until a person resets it.'),
    optional('since', time, 'Last change of active, UTC; null: never raised.'),
    optional('shelved_until', time, 'UTC; null: not shelved.'),
    optional('suppressed_by', text, 'The rule of the design that hides it; null: none.'),
    needed('out_of_service', boolean, 'Taken out for maintenance.'),
    optional('held_by', text, 'Why nothing can be said of the condition now; null: it is looked at.'),
    optional('grouped_under', text, 'Id of the alarm that stands for it; null: it speaks for itself.'),
    needed('acknowledged_by', text, 'Empty: nobody has.'),
    needed('note', text, 'Of the last act of a person.'),
    needed('consequence', text, 'What happens if nobody acts.'),
    needed('action', text, 'What the operator is asked to do.'),
    needed('class', text, 'Alarms that the site treats alike, such as condition.'),
    optional(
      'time_to_respond_ms',
      bigint,
      'Within which the action should begin; null: the site states none.',
    ),
    optional('evidence', jsonb, 'What the last transition was decided on.'),
  ],
};

const JOURNAL: Table = {
  name: 'journal',
  comment: 'What happened, what people did, what the gateway noticed.',
  key: ['number'],
  columns: [
    needed('number', bigint, 'Of the entry at its gateway.'),
    REVISION,
    needed('at', time, 'When it happened, UTC.'),
    needed('detected_at', time, 'When the gateway knew, UTC.'),
    needed('kind', text, 'alarm, operator, notice, configuration or gateway'),
    needed('subject', text, 'Motor, sensor, alarm or gateway.'),
    needed('state_before', text, 'Empty: there is none.'),
    needed('state_after', text, 'Empty: there is none.'),
    needed('who', text, 'Empty: the gateway itself.'),
    needed('text', text, 'The entry in words.'),
    needed('what', text, 'What changed; empty: nothing that has a word of its own.'),
    needed('annunciated', boolean, 'Whether the operator was told of it.'),
    needed('configuration', text, 'Revision of the configuration in force.'),
    optional('evidence', jsonb, 'What the transition was decided on.'),
  ],
};

const MANIFESTS: Table = {
  name: 'manifests',
  comment: 'What the gateway says that a day (UTC) of a sensor and period holds.',
  key: ['sensor', 'period', 'day'],
  columns: [
    SENSOR,
    PERIOD,
    needed('day', 'date', 'Day of UTC.'),
    REVISION,
    needed('rows', bigint, 'Rollups of the day.'),
    needed('pulses', bigint, 'Of all seven classes.'),
    needed('ms', bigint, 'Of all seven classes, milliseconds.'),
    needed('highest_revision', bigint, 'Of its rollups.'),
  ],
};

/** By stream. Their order is the order of locks: every batch takes them in it. */
export const TABLES: Readonly<Record<Stream, Table>> = {
  rollups: ROLLUPS,
  transients: TRANSIENTS,
  alarms: ALARMS,
  journal: JOURNAL,
  manifests: MANIFESTS,
};

/** Leads every table. */
export const SITE = needed('site', text, 'Name of the site: several gateways may share these tables.');
/** Ends every table, filled by the receiver. */
export const RECEIVED_AT = needed('received_at', time, 'When this revision was stored here, UTC.');

export function columnsOf(table: Table): readonly Column[] {
  return [SITE, ...table.columns, RECEIVED_AT];
}

export function keyOf(table: Table): readonly string[] {
  return [SITE.name, ...table.key];
}
