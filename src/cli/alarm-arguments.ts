/** What `tallypost alarms` is asked to do, from its words and options: the same rules as over HTTP. */
import type { z } from 'zod';
import { acknowledgeManyBody, actBody, reasonedActBody, shelveBody } from '../../shared/api.js';
import { ALARM_PRIORITIES, ALARM_STATES } from '../../shared/alarm-terms.js';
import type { AlarmCriteria } from '../api/alarm-filter.js';
import type { AlarmAct } from '../core/facts.js';
import { type Arguments, flagOf, optionalTextOf, type OptionSpec, textOf, UsageError } from './command.js';
import { readReportWish, type ReportWish } from './alarm-report-arguments.js';
import { durationOf } from './duration-argument.js';
import { findLocalTime, LOCAL_TIME_RULE } from './local-time.js';
import { timeOf } from './time-argument.js';

const text = (value: string, about: string): OptionSpec => ({ type: 'string', value, about });

export const ALARM_OPTIONS = {
  who: text('NAME', 'who does it'),
  note: text('TEXT', 'what was seen or done; with shelve and out-of-service, why'),
  until: text('TIME', 'shelve: when it ends; a time, a length such as 8h, or 06:00 by the clock of the site'),
  once: { type: 'boolean', about: 'shelve: it ends with the next return, if that comes first' },
  state: { ...text('STATE', 'list: open unless given'), oneOf: ['open', 'all', ...ALARM_STATES] },
  motor: text('MOTOR', 'list, acknowledge: those of a motor'),
  zone: text('ZONE', 'list, acknowledge: those of a zone'),
  kind: text('KIND', 'list, acknowledge: those of a kind, such as no-readings'),
  priority: { ...text('PRIORITY', 'list, acknowledge: those of a priority'), oneOf: ALARM_PRIORITIES },
  from: text('TIME', 'report: its beginning; 30 days before its end unless given'),
  to: text('TIME', 'report: its end; now unless given'),
  positions: text('N', 'report: operator positions that share the alarms; 1 unless given'),
} as const satisfies Readonly<Record<string, OptionSpec>>;

/** The act of each word; `list`, `show` and `report` are none. */
const ACTS = {
  acknowledge: 'acknowledge',
  confirm: 'confirm',
  reset: 'reset',
  shelve: 'shelve',
  unshelve: 'unshelve',
  'out-of-service': 'take-out-of-service',
  return: 'return-to-service',
} as const satisfies Readonly<Record<string, AlarmAct['do']>>;

export const VERBS = ['list', 'show', 'report', ...(Object.keys(ACTS) as (keyof typeof ACTS)[])] as const;
type Verb = (typeof VERBS)[number];

/** Longest length of time that `--until` takes; the configuration allows less. */
const LENGTH_MAX_MS = 366 * 86_400_000;
const HINT = 'See "tallypost alarms --help".';
const ID = /^[a-z0-9-]+\.[a-z0-9-]+$/;

/** Who and why, as HTTP takes it. */
export interface ActWish {
  readonly do: 'act';
  readonly act: AlarmAct;
  readonly alarms: readonly string[];
  readonly who: string;
  readonly note: string;
}

export type AlarmsWish =
  | { readonly do: 'list'; readonly criteria: AlarmCriteria }
  | { readonly do: 'show'; readonly alarm: string }
  | ({ readonly do: 'report' } & ReportWish)
  | ActWish
  | {
      readonly do: 'acknowledge-many';
      readonly criteria: AlarmCriteria;
      readonly who: string;
      readonly note: string;
    };

const CRITERIA = ['state', 'motor', 'zone', 'kind', 'priority'] as const;
const BELONGS: Readonly<Record<Verb, readonly string[]>> = {
  list: CRITERIA,
  show: [],
  report: ['from', 'to', 'positions'],
  acknowledge: ['who', 'note', ...CRITERIA],
  confirm: ['who', 'note'],
  reset: ['who', 'note'],
  shelve: ['who', 'note', 'until', 'once'],
  unshelve: ['who', 'note'],
  'out-of-service': ['who', 'note'],
  return: ['who', 'note'],
};

/** `askZone`: the IANA zone of the site, asked only for a local time. Throws `UsageError`. */
export async function readAlarmsWish(
  args: Arguments,
  now: number,
  askZone: () => Promise<string>,
): Promise<AlarmsWish> {
  const [word = 'list', ...alarms] = args.positionals;
  const verb = word as Verb;
  refuseStrangers(args, verb);
  const criteria = criteriaOf(args);
  if (verb !== 'list' && verb !== 'report') refuseNoIds(alarms);
  if (verb === 'list') {
    if (alarms.length > 0) throw new UsageError('list takes no ids.', 'See "tallypost alarms show ID".');
    return { do: 'list', criteria: { ...criteria, state: criteria.state ?? 'open' } };
  }
  if (verb === 'show') {
    if (alarms.length !== 1) throw new UsageError('show takes the id of one alarm.', HINT);
    return { do: 'show', alarm: alarms[0]! };
  }
  if (verb === 'report') {
    if (alarms.length > 0) throw new UsageError('report takes no ids: it is about all alarms.', HINT);
    return { do: 'report', ...readReportWish(args, now) };
  }
  const hasCriteria = CRITERIA.some((name) => args.options[name] !== undefined);
  if (alarms.length === 0 && !hasCriteria) {
    const also = verb === 'acknowledge' ? ', or a description such as --motor or --kind' : '';
    throw new UsageError(`Say which alarms: their ids${also}.`, '"tallypost alarms list" has the ids.');
  }
  if (alarms.length > 0 && hasCriteria)
    throw new UsageError('Give either the ids of alarms or a description, not both.', HINT);
  if (optionalTextOf(args, 'who') === null) throw new UsageError('--who NAME is missing: who does it.', HINT);
  const by = { who: textOf(args, 'who'), note: textOf(args, 'note') };
  if (verb === 'acknowledge' && hasCriteria) {
    const { who, note } = check(acknowledgeManyBody, { ...by, ...withoutAbsent(criteria) });
    return { do: 'acknowledge-many', criteria, who, note };
  }
  return { do: 'act', alarms, ...(await readAct(verb, by, args, now, askZone)) };
}

async function readAct(
  verb: keyof typeof ACTS,
  by: { who: string; note: string },
  args: Arguments,
  now: number,
  askZone: () => Promise<string>,
): Promise<Pick<ActWish, 'act' | 'who' | 'note'>> {
  const kind = ACTS[verb];
  if (kind !== 'shelve') {
    const { who, note } = check(kind === 'take-out-of-service' ? reasonedActBody : actBody, by);
    return { act: { do: kind }, who, note };
  }
  const until = await readUntil(args, now, askZone);
  const { who, note, once } = check(shelveBody, { ...by, until, once: flagOf(args, 'once') });
  return { act: { do: 'shelve', until, once }, who, note };
}

async function readUntil(args: Arguments, now: number, askZone: () => Promise<string>): Promise<number> {
  const given = optionalTextOf(args, 'until');
  if (given === null)
    throw new UsageError('--until TIME is missing: when the shelf ends.', 'A shelf always has an end.');
  if (/^\d+(\.\d+)?\s*[a-z]+$/.test(given)) return now + durationOf(args, 'until', 60_000, LENGTH_MAX_MS)!;
  if (findLocalTime(given, 'UTC', now) !== null) return findLocalTime(given, await askZone(), now)!;
  try {
    return timeOf(args, 'until')!;
  } catch (error) {
    if (!(error instanceof UsageError)) throw error;
    throw new UsageError(error.message, `${error.hint} Or a length such as 8h, or ${LOCAL_TIME_RULE}.`);
  }
}

function criteriaOf(args: Arguments): AlarmCriteria {
  const given = CRITERIA.map((name) => [name, optionalTextOf(args, name) ?? undefined] as const);
  return Object.fromEntries(given);
}

/** What was given; as HTTP takes it, where an empty field is a fault. */
export function withoutAbsent(criteria: AlarmCriteria): Record<string, string> {
  const given = Object.entries(criteria as Record<string, string | undefined>);
  return Object.fromEntries(given.filter((each): each is [string, string] => each[1] !== undefined));
}

/** Before any of several is acted upon. */
function refuseNoIds(alarms: readonly string[]): void {
  const wrong = alarms.find((id) => !ID.test(id));
  if (wrong === undefined) return;
  throw new UsageError(
    `"${wrong}" is no id of an alarm.`,
    'An id is <motor>.<alarm>, such as pump-1.de-rate-high; "tallypost alarms list" has them.',
  );
}

/** An option that says nothing here was meant for something else. */
function refuseStrangers(args: Arguments, verb: Verb): void {
  for (const name of Object.keys(ALARM_OPTIONS)) {
    if (args.options[name] === undefined || BELONGS[verb].includes(name)) continue;
    throw new UsageError(`--${name} does not go with ${verb}.`, HINT);
  }
}

function check<T>(schema: z.ZodType<T>, entry: unknown): T {
  const result = schema.safeParse(entry);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  throw new UsageError(`--${String(issue?.path[0] ?? '')}: ${issue?.message ?? 'not valid'}.`, HINT);
}
