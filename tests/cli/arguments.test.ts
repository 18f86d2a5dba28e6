import { describe, expect, it } from 'vitest';
import { type Arguments, type Command, Exit, parseArguments, UsageError } from '../../src/cli/command.js';
import { dispatchCommand } from '../../src/cli/dispatch.js';
import { recordTerminal } from './recorder.js';

function makeCommand(run: Command['run'] = () => Promise.resolve(Exit.ok)): Command {
  return {
    name: 'weigh',
    summary: 'weigh a thing',
    about: 'Weighs a thing.',
    options: {
      scale: { type: 'string', value: 'FILE', about: 'the scale', required: true },
      unit: { type: 'string', value: 'UNIT', about: 'the unit', oneOf: ['gram', 'stone'] },
      tare: { type: 'string', value: 'THING', about: 'what to subtract', multiple: true },
      json: { type: 'boolean', about: 'as JSON' },
    },
    positionals: [{ name: 'THING', about: 'what to weigh', least: 1, most: 2 }],
    examples: ['tallypost weigh --scale kitchen apple'],
    run,
  };
}

function failure(argv: string[]): UsageError {
  try {
    parseArguments(makeCommand(), argv);
  } catch (error) {
    if (error instanceof UsageError) return error;
  }
  throw new Error(`no usage error from ${argv.join(' ')}`);
}

describe('arguments of a command', () => {
  it('are read in any order', () => {
    const args: Arguments = parseArguments(makeCommand(), [
      'apple',
      '--tare=a',
      '--scale',
      's',
      '--json',
      '--tare',
      'b',
      'pear',
    ]);
    expect(args.options).toEqual({ scale: 's', json: true, tare: ['a', 'b'] });
    expect(args.positionals).toEqual(['apple', 'pear']);
  });

  it.each([
    [['apple', '--scale', 's', '--jsn'], /no option --jsn/, 'Did you mean --json?'],
    [['apple', '--scale', 's', '--unit', 'gramm'], /one of gram, stone, not "gramm"/, 'Did you mean gram?'],
    [['apple'], /--scale FILE is missing: the scale/, ''],
    [['--scale', 's'], /THING is missing/, ''],
    [['a', 'b', 'c', '--scale', 's'], /"c" is one argument too many/, 'See "tallypost weigh --help".'],
    [['a', '--scale'], /--scale needs a value/, ''],
    [['a', '--scale', 's', '--scale', 't'], /given twice/, 'Give it once.'],
    [['a', '--scale', 's', '--json=yes'], /takes no value/, ''],
  ])('%j is refused with what to do', (argv, message, hint) => {
    const error = failure(argv);
    expect(error.message).toMatch(message);
    expect(error.hint).toBe(hint);
  });
});

describe('dispatch', () => {
  const dispatch = async (
    argv: string[],
    command = makeCommand(),
  ): Promise<{ code: Exit; out: string; err: string }> => {
    const terminal = recordTerminal();
    const code = await dispatchCommand(argv, [command], terminal, '1.2.3');
    return { code, ...terminal.text };
  };

  it('without a command explains itself on standard error, exit 2', async () => {
    const { code, out, err } = await dispatch([]);
    expect([code, out]).toEqual([2, '']);
    expect(err).toContain('weigh a thing');
  });

  it('lists the commands and the exit codes on --help, exit 0', async () => {
    const { code, out } = await dispatch(['--help']);
    expect(code).toBe(0);
    expect(out).toMatch(/weigh +weigh a thing/);
    expect(out).toContain('Exit codes:');
  });

  it.each([[['weigh', '--help']], [['help', 'weigh']], [['weigh', '-h']]])(
    '%j shows the help of a command',
    async (argv) => {
      const { code, out } = await dispatch(argv);
      expect(code).toBe(0);
      expect(out).toContain('Usage: tallypost weigh --scale FILE THING… [OPTIONS]');
      expect(out).toContain('Example:\n  tallypost weigh --scale kitchen apple');
    },
  );

  it('suggests the nearest command, exit 2', async () => {
    const { code, err } = await dispatch(['wiegh']);
    expect(code).toBe(2);
    expect(err).toContain('Did you mean "weigh"?');
  });

  it('says the version', async () => {
    expect(await dispatch(['--version'])).toEqual({ code: 0, out: '1.2.3\n', err: '' });
  });

  it('wrong arguments exit 2, and name the command', async () => {
    const { code, err } = await dispatch(['weigh', 'apple']);
    expect(code).toBe(2);
    expect(err).toMatch(/^tallypost weigh: --scale FILE is missing/);
  });

  it('a failure with a hint exits 3 without a stack', async () => {
    const error = Object.assign(new Error('The disk is full.'), { code: 'ENOSPC', hint: 'Free some space.' });
    const { code, err } = await dispatch(
      ['weigh', 'apple', '--scale', 's'],
      makeCommand(() => Promise.reject(error)),
    );
    expect(code).toBe(3);
    expect(err).toBe('tallypost weigh: The disk is full. Free some space.\n');
  });

  it('a fault of ours exits 3 with a stack to report', async () => {
    const { code, err } = await dispatch(
      ['weigh', 'apple', '--scale', 's'],
      makeCommand(() => Promise.reject(new TypeError('x is not a function'))),
    );
    expect(code).toBe(3);
    expect(err).toContain('Please report it');
  });

  it('a reader that closes the pipe is no failure', async () => {
    const error = Object.assign(new Error('write EPIPE'), { code: 'EPIPE' });
    const { code, err } = await dispatch(
      ['weigh', 'apple', '--scale', 's'],
      makeCommand(() => Promise.reject(error)),
    );
    expect([code, err]).toEqual([0, '']);
  });
});
