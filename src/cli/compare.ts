/** `tallypost compare`: like with like, for the three questions of the reliability engineer. */
import type { CompareQuestion } from '../advice/question.js';
import { isTimeMs, parseRfc3339 } from '../../shared/time.js';
import {
  type Arguments,
  type Command,
  Exit,
  flagOf,
  numberOf,
  optionalTextOf,
  textOf,
  UsageError,
} from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { rangeOf } from './time-argument.js';

const CHOICES = ['baseline', 'sisters', 'around', 'before'] as const;

export const compareCommand: Command = {
  name: 'compare',
  summary: 'how many times as often: its baseline, its sisters, or before and after',
  about:
    'Compares the running counts of one sensor under like conditions, with 95 % limits: against its own baseline,\n' +
    'against the median of its duty group, before and after a maintenance action, or over two periods. Says what\n' +
    'was left out and why, and what is missing where there is no answer yet (exit code 1). May run while the\n' +
    'gateway runs. docs/compare.md says what the answers mean and do not mean.',
  options: {
    data: DATA_OPTION,
    config: CONFIG_OPTION,
    sensor: { type: 'string', value: 'M/P', about: 'the sensor that is asked about', required: true },
    baseline: { type: 'boolean', about: 'against its own baseline' },
    sisters: { type: 'boolean', about: 'against the median of its duty group' },
    around: {
      type: 'string',
      value: 'ACTION',
      about: 'before and after the maintenance action of this number',
    },
    before: { type: 'string', value: 'FROM..TO', about: 'with --after: two periods' },
    after: { type: 'string', value: 'FROM..TO', about: 'with --before: two periods' },
    from: {
      type: 'string',
      value: 'TIME',
      about: 'of --baseline and --sisters: from here, not the newest week',
    },
    to: { type: 'string', value: 'TIME', about: 'of --baseline and --sisters: up to here' },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: [
    'tallypost compare --data data --config plant.yaml --sensor booster-4/de --sisters',
    'tallypost compare --data data --config plant.yaml --sensor booster-4/de --around 17',
    'tallypost compare --data data --config plant.yaml --sensor booster-4/de \\\n' +
      '      --before 2026-02-01T00:00:00Z..2026-02-08T00:00:00Z --after 2026-02-09T00:00:00Z..2026-02-16T00:00:00Z',
  ],
  async run(args, terminal) {
    const question = readQuestion(args);
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const { toFleet } = await import('../api/fleet.js');
    const { toAnswerBody } = await import('../api/advice-maps.js');
    const { openReader } = await import('../store/reader.js');
    const { answerQuestion } = await import('./query/compare.js');
    const { writeAnswer } = await import('./advice-text.js');
    const { checkSensor } = await import('./sensor-argument.js');
    checkSensor(read.plan, question.sensor);
    const reader = openReader(textOf(args, 'data'));
    try {
      const answer = answerQuestion(reader, { fleet: toFleet(read.plan), question });
      await terminal.out(
        flagOf(args, 'json') ? `${JSON.stringify(toAnswerBody(answer))}\n` : writeAnswer(answer),
      );
      return answer.comparison === null ? Exit.negative : Exit.ok;
    } finally {
      reader.close();
    }
  },
};

/** Exactly one question, with the options that go with it. */
function readQuestion(args: Arguments): CompareQuestion {
  const sensor = textOf(args, 'sensor');
  const asked = CHOICES.filter((name) => args.options[name] !== undefined);
  const [kind] = asked;
  if (kind === undefined || asked.length > 1) {
    throw new UsageError(
      asked.length === 0
        ? 'What to compare with is missing.'
        : `--${asked.join(' and --')} are two questions.`,
      'Give one of --baseline, --sisters, --around ACTION, or --before FROM..TO with --after FROM..TO.',
    );
  }
  if (args.options['after'] !== undefined && kind !== 'before')
    throw new UsageError('--after goes with --before FROM..TO only.');
  if (kind === 'around' || kind === 'before') refuseRange(args, kind);
  switch (kind) {
    case 'around':
      return { kind, sensor, action: readAction(args) };
    case 'before':
      return { kind: 'periods', sensor, before: periodOf(args, 'before'), after: periodOf(args, 'after') };
    case 'baseline':
    case 'sisters':
      return { kind, sensor, ...rangeOf(args) };
  }
}

function refuseRange(args: Arguments, kind: string): void {
  for (const name of ['from', 'to'])
    if (args.options[name] !== undefined) throw new UsageError(`--${name} does not go with --${kind}.`);
}

function readAction(args: Arguments): number {
  const id = numberOf(args, 'around', 1, 999_999_999);
  if (id !== null && Number.isInteger(id)) return id;
  throw new UsageError(`--around "${textOf(args, 'around')}" is no number of a maintenance action.`);
}

/** FROM..TO */
function periodOf(args: Arguments, name: string): { from: number; to: number } {
  const text = optionalTextOf(args, name);
  const other = name === 'before' ? 'after' : 'before';
  if (text === null) throw new UsageError(`--${name} FROM..TO is missing beside --${other}.`);
  const [from = null, to = null, ...more] = text.split('..').map(readTime);
  if (from !== null && to !== null && more.length === 0 && from < to) return { from, to };
  throw new UsageError(
    `--${name} "${text}" is no period.`,
    'Write FROM..TO with FROM before TO, like 2026-03-01T00:00:00Z..2026-03-08T00:00:00Z.',
  );
}

function readTime(text: string): number | null {
  const time = /^\d{1,15}$/.test(text) ? Number(text) : parseRfc3339(text);
  return time !== null && isTimeMs(time) ? time : null;
}
