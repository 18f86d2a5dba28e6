/** The help texts: of the program and of each command. */
import type { Command } from './command.js';

const INDENT = '  ';

function describeRows(rows: readonly (readonly [string, string])[]): string {
  const width = Math.max(...rows.map(([left]) => left.length));
  return rows.map(([left, right]) => `${INDENT}${left.padEnd(width)}  ${right}\n`).join('');
}

/** `tallypost --help` */
export function describeProgram(commands: readonly Command[], version: string): string {
  return (
    `tallypost ${version} - counts bearing discharges on drive-fed motors and proves its counts\n\n` +
    `Usage: tallypost COMMAND [OPTIONS]\n\nCommands:\n` +
    describeRows(commands.map((c) => [c.name, c.summary])) +
    `\nEvery command explains itself: tallypost COMMAND --help\n\n` +
    `Example: tallypost run --config config/minimal.yaml --data data\n\n` +
    `Exit codes: 0 done, 1 the answer is no (a ledger that does not balance, an invalid configuration),\n` +
    `            2 wrong arguments, 3 disk, network or another process failed\n`
  );
}

/** `tallypost COMMAND --help` */
export function describeCommand(command: Command): string {
  const positionals = command.positionals.map((p) => positionalUsage(p.name, p.least, p.most)).join('');
  const required = Object.entries(command.options).filter(([, spec]) => spec.required === true);
  const usage = required
    .map(([name, spec]) => ` --${name}${spec.value === undefined ? '' : ` ${spec.value}`}`)
    .join('');
  const rows: [string, string][] = command.positionals.map((p) => [p.name, p.about]);
  for (const [name, spec] of Object.entries(command.options)) {
    const choices = spec.oneOf === undefined ? '' : ` (${spec.oneOf.join(', ')})`;
    const often = spec.multiple === true ? '; may be given several times' : '';
    rows.push([
      `--${name}${spec.value === undefined ? '' : ` ${spec.value}`}`,
      `${spec.about}${choices}${often}`,
    ]);
  }
  rows.push(['--help', 'this text']);
  return (
    `Usage: tallypost ${command.name}${usage}${positionals} [OPTIONS]\n\n${command.about}\n\n` +
    describeRows(rows) +
    `\n${command.examples.length === 1 ? 'Example' : 'Examples'}:\n` +
    command.examples.map((example) => `${INDENT}${example}\n`).join('')
  );
}

function positionalUsage(name: string, least: number, most: number): string {
  const word = most > 1 ? `${name}…` : name;
  return least === 0 ? ` [${word}]` : ` ${word}`;
}
