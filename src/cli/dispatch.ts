/**
 * Finds the command, reads its arguments, runs it, and turns whatever happens into an exit code with a sentence.
 */
import { describeCommand, describeProgram } from './help-text.js';
import { type Command, CommandFailure, Exit, parseArguments, type Terminal, UsageError } from './command.js';
import { findNearestWord } from './nearest-word.js';
import { NoSuchEntry } from './query/no-such-entry.js';

/** Runs `tallypost` with `argv` (without node and script). Never throws. */
export async function dispatchCommand(
  argv: readonly string[],
  commands: readonly Command[],
  terminal: Terminal,
  version: string,
): Promise<Exit> {
  const [first, ...rest] = argv;
  if (first === undefined) {
    terminal.err(describeProgram(commands, version));
    return Exit.usage;
  }
  if (first === '--help' || first === '-h' || (first === 'help' && rest.length === 0)) {
    await terminal.out(describeProgram(commands, version));
    return Exit.ok;
  }
  if (first === '--version' || first === '-V') {
    await terminal.out(`${version}\n`);
    return Exit.ok;
  }
  const name = first === 'help' ? (rest[0] ?? '') : first;
  const command = commands.find((c) => c.name === name);
  if (command === undefined) {
    const meant = findNearestWord(name, ['help', ...commands.map((c) => c.name)]);
    terminal.err(
      `There is no command "${name}". ${meant === null ? 'See "tallypost --help".' : `Did you mean "${meant}"?`}\n`,
    );
    return Exit.usage;
  }
  if (first === 'help' || rest.includes('-h')) {
    await terminal.out(describeCommand(command));
    return Exit.ok;
  }
  return runCommand(command, rest, terminal);
}

async function runCommand(command: Command, argv: readonly string[], terminal: Terminal): Promise<Exit> {
  try {
    const args = parseArguments(command, argv);
    if (args.options['help'] === true) {
      await terminal.out(describeCommand(command));
      return Exit.ok;
    }
    return await command.run(args, terminal);
  } catch (error) {
    return explainError(command.name, error, terminal);
  }
}

function explainError(name: string, error: unknown, terminal: Terminal): Exit {
  if (error instanceof UsageError || error instanceof NoSuchEntry) {
    terminal.err(`tallypost ${name}: ${joinSentences(error.message, error.hint)}\n`);
    return Exit.usage;
  }
  if (!(error instanceof Error)) {
    terminal.err(`tallypost ${name}: ${String(error)}\n`);
    return Exit.failure;
  }
  if ('code' in error && error.code === 'EPIPE') return Exit.ok; // the reader of our output has had enough
  const hint = 'hint' in error && typeof error.hint === 'string' ? error.hint : '';
  terminal.err(`tallypost ${name}: ${joinSentences(error.message, hint)}\n`);
  const expected = error instanceof CommandFailure || hint !== '' || 'code' in error;
  if (!expected)
    terminal.err(
      `This is a fault of tallypost itself. Please report it with these lines:\n${error.stack ?? ''}\n`,
    );
  return Exit.failure;
}

function joinSentences(message: string, hint: string): string {
  return hint === '' || message.includes(hint) ? message : `${message} ${hint}`;
}
