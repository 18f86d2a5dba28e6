/** What `tallypost note` is asked to enter, from its options: the same rules as over HTTP, told in terms of the options. */
import type { z } from 'zod';
import { FAILURE_MODE_NAMES, LUBRICANT_CONDITIONS, VISIBLE_SIGNS } from '../../shared/inspection-terms.js';
import { actionRequest, findingRequest, withdrawRequest } from '../../shared/maintenance.js';
import { ACTION_KINDS } from '../../shared/maintenance-terms.js';
import {
  type Arguments,
  flagOf,
  listOf,
  numberOf,
  optionalTextOf,
  type OptionSpec,
  textOf,
  UsageError,
} from './command.js';
import { findNearestWord } from './nearest-word.js';
import { timeOf } from './time-argument.js';
import { wrapText } from './text-columns.js';

const text = (value: string, about: string): OptionSpec => ({ type: 'string', value, about });
const several = (value: string, about: string): OptionSpec => ({ ...text(value, about), multiple: true });

export const NOTE_OPTIONS = {
  motor: text('MOTOR', 'the motor; with --list, only its entries'),
  action: text('WORD', 'what was done, one of the words below'),
  finding: { type: 'boolean', about: 'enter what an inspection of a bearing found' },
  end: text('END', 'de, nde, both or a position; the whole motor unless given'),
  bearing: text('WORD', 'what a bearing was replaced by: same, insulated or hybrid'),
  removed: { type: 'boolean', about: 'the finding is of the bearing taken out at the last replacement' },
  mode: several('WORD', 'failure mode, one of the words below'),
  sign: several('WORD', 'visible sign, one of the words below'),
  lubricant: several('WORD', 'condition of the lubricant'),
  at: text('TIME', 'when it was done or seen; now unless given'),
  by: text('NAME', 'who'),
  note: text('TEXT', 'free text; with --withdraw, why'),
  list: { type: 'boolean', about: 'list the entries' },
  withdraw: text('ID', 'take an entry back; it stays, marked'),
} as const satisfies Readonly<Record<string, OptionSpec>>;

/** The words that options take, for the help text. */
export function describeWords(): string {
  const lists = [
    ['actions', ACTION_KINDS],
    ['modes', FAILURE_MODE_NAMES],
    ['signs', VISIBLE_SIGNS],
    ['lubricant', LUBRICANT_CONDITIONS],
  ] as const;
  return lists
    .map(([title, words]) => {
      const [first = '', ...more] = wrapText(words.join(', '), 84);
      return [`${`${title}:`.padEnd(12)}${first}`, ...more.map((line) => ' '.repeat(12) + line)].join('\n');
    })
    .join('\n');
}

export type NoteWish =
  | { readonly do: 'list'; readonly motor: string | null }
  | { readonly do: 'enter-action'; readonly motor: string; readonly entry: z.input<typeof actionRequest> }
  | { readonly do: 'enter-finding'; readonly motor: string; readonly entry: z.input<typeof findingRequest> }
  | { readonly do: 'withdraw'; readonly id: number; readonly by: string; readonly note: string };

const HINT = 'See "tallypost note --help".';

/** Throws `UsageError`. */
export function readWish(args: Arguments): NoteWish {
  const wanted = ['action', 'finding', 'list', 'withdraw'].filter((name) => args.options[name] !== undefined);
  if (wanted.length !== 1)
    throw new UsageError('Give exactly one of --action, --finding, --list and --withdraw.', HINT);
  refuseStrangers(args, wanted[0]!);
  if (flagOf(args, 'list')) return { do: 'list', motor: optionalTextOf(args, 'motor') };
  const id = numberOf(args, 'withdraw', 1, Number.MAX_SAFE_INTEGER);
  if (optionalTextOf(args, 'by') === null)
    throw new UsageError('--by NAME is missing: who did it, saw it or takes it back.', HINT);
  const who = { by: textOf(args, 'by'), note: textOf(args, 'note') };
  if (id !== null) return { do: 'withdraw', id, ...check(withdrawRequest, who) };
  const motor = optionalTextOf(args, 'motor');
  if (motor === null) throw new UsageError('--motor MOTOR is missing: which motor it is about.', HINT);
  const at = timeOf(args, 'at');
  const common = { ...who, ...(at === null ? {} : { at }) };
  const end = optionalTextOf(args, 'end');
  if (flagOf(args, 'finding')) {
    const entry = {
      ...{ ...common, end: end ?? '', removed: flagOf(args, 'removed') },
      modes: wordsOf(args, 'mode', FAILURE_MODE_NAMES),
      signs: wordsOf(args, 'sign', VISIBLE_SIGNS),
      lubricant: wordsOf(args, 'lubricant', LUBRICANT_CONDITIONS),
    };
    if (end === null) throw new UsageError('--end END is missing: which bearing was looked at.', HINT);
    check(findingRequest, entry);
    return { do: 'enter-finding', motor, entry };
  }
  const action = wordOf('action', textOf(args, 'action'), ACTION_KINDS);
  const bearing = optionalTextOf(args, 'bearing');
  const entry = { ...common, action, end, bearing: bearing as 'same' | null };
  check(actionRequest, entry);
  return { do: 'enter-action', motor, entry };
}

const BELONGS: Readonly<Record<string, readonly string[]>> = {
  action: ['motor', 'end', 'bearing', 'at', 'by', 'note'],
  finding: ['motor', 'end', 'removed', 'mode', 'sign', 'lubricant', 'at', 'by', 'note'],
  list: ['motor'],
  withdraw: ['by', 'note'],
};

/** An option that says nothing here was meant for something else. */
function refuseStrangers(args: Arguments, wanted: string): void {
  for (const name of Object.keys(NOTE_OPTIONS)) {
    if (name === wanted || args.options[name] === undefined || BELONGS[wanted]!.includes(name)) continue;
    throw new UsageError(`--${name} does not go with --${wanted}.`, HINT);
  }
}

function wordOf<T extends string>(option: string, given: string, words: readonly T[]): T {
  const found = words.find((word) => word === given);
  if (found !== undefined) return found;
  const meant = findNearestWord(given, words);
  const hint = meant === null ? `It takes: ${words.join(', ')}.` : `Did you mean ${meant}?`;
  throw new UsageError(`--${option} "${given}" is none of its words.`, hint);
}

function wordsOf<T extends string>(args: Arguments, option: string, words: readonly T[]): T[] {
  return listOf(args, option).map((given) => wordOf(option, given, words));
}

/** Options of a field that has another name there. */
const OPTION_OF: Readonly<Record<string, string>> = { modes: 'mode', signs: 'sign' };

function check<T>(schema: z.ZodType<T>, entry: unknown): T {
  const result = schema.safeParse(entry);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  const field = String(issue?.path[0] ?? '');
  throw new UsageError(`--${OPTION_OF[field] ?? field}: ${issue?.message ?? 'not valid'}.`, HINT);
}
