/**
 * What a command of `tallypost` is, and how its arguments are read.
 * Why not plain `parseArgs` in strict mode: it stops at the first fault and cannot say what was probably meant.
 */
import { parseArgs } from 'node:util';
import { findNearestWord } from './nearest-word.js';

/** Exit codes; documented in `tallypost --help`. */
export const Exit = { ok: 0, negative: 1, usage: 2, failure: 3 } as const;
export type Exit = (typeof Exit)[keyof typeof Exit];

export interface OptionSpec {
  readonly type: 'string' | 'boolean';
  /** how the value is called in the help text, e.g. `FILE` */
  readonly value?: string;
  readonly about: string;
  readonly required?: boolean;
  readonly multiple?: boolean;
  /** the only values allowed */
  readonly oneOf?: readonly string[];
}

export interface PositionalSpec {
  readonly name: string;
  readonly about: string;
  readonly least: number;
  readonly most: number;
  readonly oneOf?: readonly string[];
}

/** Option values by name: text, several texts, or true. Absent: not given. */
export interface Arguments {
  readonly options: Readonly<Record<string, string | string[] | boolean | undefined>>;
  readonly positionals: readonly string[];
}

/** Where a command writes. `out` resolves when the reader has taken the text (back-pressure). */
export interface Terminal {
  out(text: string): Promise<void>;
  err(text: string): void;
  readonly isErrTty: boolean;
}

export interface Command {
  readonly name: string;
  /** one line for the list of commands */
  readonly summary: string;
  /** what it does, for its own help; plain text */
  readonly about: string;
  readonly options: Readonly<Record<string, OptionSpec>>;
  readonly positionals: readonly PositionalSpec[];
  readonly examples: readonly string[];
  run(args: Arguments, terminal: Terminal): Promise<Exit>;
}

/** The arguments are wrong: exit 2. `message` says what, `hint` what to do. */
export class UsageError extends Error {
  constructor(
    message: string,
    readonly hint = '',
  ) {
    super(message);
  }
}

/** Disk, network or another process failed: exit 3. */
export class CommandFailure extends Error {
  constructor(
    message: string,
    readonly hint = '',
  ) {
    super(message);
  }
}

/** Reads `argv` (without the command's own name). Throws `UsageError`. */
export function parseArguments(command: Command, argv: readonly string[]): Arguments {
  const known = { ...command.options, help: { type: 'boolean', about: '' } as OptionSpec };
  const { tokens } = parseArgs({
    args: [...argv],
    strict: false,
    tokens: true,
    allowPositionals: true,
    options: Object.fromEntries(Object.entries(known).map(([name, spec]) => [name, { type: spec.type }])),
  });
  const options: Record<string, string | string[] | boolean> = {};
  const positionals: string[] = [];
  for (const token of tokens) {
    if (token.kind === 'positional') positionals.push(token.value);
    if (token.kind === 'option') takeOption(command, known, options, token);
  }
  if (options['help'] === true) return { options, positionals };
  for (const [name, spec] of Object.entries(command.options)) {
    if (spec.required === true && options[name] === undefined) {
      throw new UsageError(`--${name} ${spec.value ?? ''} is missing: ${spec.about}.`);
    }
  }
  checkPositionals(command, positionals);
  return { options, positionals };
}

interface OptionToken {
  readonly name: string;
  readonly rawName: string;
  readonly value: string | undefined;
}

function takeOption(
  command: Command,
  known: Readonly<Record<string, OptionSpec>>,
  options: Record<string, string | string[] | boolean>,
  token: OptionToken,
): void {
  const spec = Object.hasOwn(known, token.name) ? known[token.name] : undefined;
  if (spec === undefined) {
    const meant = findNearestWord(token.name, Object.keys(known));
    const hint = meant === null ? `See "tallypost ${command.name} --help".` : `Did you mean --${meant}?`;
    throw new UsageError(`"${command.name}" has no option ${token.rawName}.`, hint);
  }
  if (spec.type === 'boolean') {
    if (token.value !== undefined) throw new UsageError(`${token.rawName} takes no value.`);
    options[token.name] = true;
    return;
  }
  if (token.value === undefined || token.value === '') {
    throw new UsageError(`${token.rawName} needs a value: ${spec.value ?? 'TEXT'}, ${spec.about}.`);
  }
  checkChoice(token.rawName, token.value, spec.oneOf);
  const earlier = options[token.name];
  if (spec.multiple === true) {
    options[token.name] = [...(Array.isArray(earlier) ? earlier : []), token.value];
  } else if (earlier !== undefined) {
    throw new UsageError(`${token.rawName} is given twice.`, 'Give it once.');
  } else {
    options[token.name] = token.value;
  }
}

function checkChoice(what: string, value: string, oneOf: readonly string[] | undefined): void {
  if (oneOf === undefined || oneOf.includes(value)) return;
  const meant = findNearestWord(value, oneOf);
  const hint = meant === null ? '' : `Did you mean ${meant}?`;
  throw new UsageError(`${what} must be one of ${oneOf.join(', ')}, not "${value}".`, hint);
}

function checkPositionals(command: Command, positionals: readonly string[]): void {
  let index = 0;
  for (const spec of command.positionals) {
    const given = positionals.slice(index, index + spec.most);
    if (given.length < spec.least) throw new UsageError(`${spec.name} is missing: ${spec.about}.`);
    for (const value of given) checkChoice(spec.name, value, spec.oneOf);
    index += given.length;
  }
  const extra = positionals[index];
  if (extra !== undefined) {
    throw new UsageError(`"${extra}" is one argument too many.`, `See "tallypost ${command.name} --help".`);
  }
}

/** A required or defaulted text option. */
export function textOf(args: Arguments, name: string, otherwise = ''): string {
  const value = args.options[name];
  return typeof value === 'string' ? value : otherwise;
}

/** An optional text option; null: not given. */
export function optionalTextOf(args: Arguments, name: string): string | null {
  const value = args.options[name];
  return typeof value === 'string' ? value : null;
}

/** A repeatable option. */
export function listOf(args: Arguments, name: string): string[] {
  const value = args.options[name];
  return Array.isArray(value) ? value : [];
}

export function flagOf(args: Arguments, name: string): boolean {
  return args.options[name] === true;
}

/** An option that is a number; null: not given. Throws `UsageError` outside `least`..`most`. */
export function numberOf(args: Arguments, name: string, least: number, most: number): number | null {
  const text = optionalTextOf(args, name);
  if (text === null) return null;
  const value = Number(text);
  if (!Number.isFinite(value) || value < least || value > most) {
    throw new UsageError(`--${name} must be a number from ${least} to ${most}, not "${text}".`);
  }
  return value;
}
