/**
 * `tallypost rehearse`: a candidate configuration over the stored past. By the gateway that runs, which knows its configuration;
 * or here from the store, when the running configuration is named.
 */
import type { OutcomeBody, RehearsalBody } from '../api/rehearsal-bodies.js';
import { formatUtcOrNull } from '../../shared/time.js';
import { loadConfig } from '../config/parse.js';
import { formatProblem } from '../config/problem.js';
import type { Plan } from '../core/plan.js';
import {
  type Arguments,
  type Command,
  CommandFailure,
  Exit,
  flagOf,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { askGateway, findAddress, GatewayRefusal } from './gateway-client.js';
import { openProgress, type Progress } from './progress.js';
import { rangeOf } from './time-argument.js';

const ASK_EVERY_MS = 500;

export const rehearseCommand: Command = {
  name: 'rehearse',
  summary: 'what changed alarms would have done over the stored past',
  about:
    'Plays the stored past again through the live alarm code, under the configuration that runs and under a\n' +
    'candidate, and sets both beside the journal: alarm by alarm how often raised, for how long, how unsteadily,\n' +
    'and which alarms that a person acknowledged or confirmed the candidate would have missed. Only alarms,\n' +
    'alarmBudget and baseline may differ: the counts were gated and summed as it ran. The gateway that runs on DIR\n' +
    'or at --http does it; without one, name what ran with --running. Nothing is changed. Exit code 1 when the\n' +
    'candidate is not valid or would have missed a confirmed event. docs/rehearse.md says how it works.',
  options: {
    config: { ...CONFIG_OPTION, about: 'the candidate' },
    data: { ...DATA_OPTION, required: false },
    running: {
      type: 'string',
      value: 'FILE',
      about: 'the running configuration: rehearse here, from the store in DIR',
    },
    http: {
      type: 'string',
      value: 'HOST:PORT',
      about: 'where the gateway listens for HTTP, if not as it said',
    },
    from: { type: 'string', value: 'TIME', about: 'where it begins; 30 days before the end unless given' },
    to: { type: 'string', value: 'TIME', about: 'where it ends; the newest stored minute unless given' },
    json: { type: 'boolean', about: 'the outcome as one JSON object' },
  },
  positionals: [],
  examples: [
    'tallypost rehearse --config candidate.yaml --data data --from 2026-02-01T00:00:00Z --to 2026-03-01T00:00:00Z',
    'tallypost rehearse --config candidate.yaml --running plant.yaml --data copy-of-data --json',
  ],
  async run(args, terminal) {
    const progress = openProgress(terminal);
    const outcome = await rehearse(args, terminal, progress)
      .catch((error: unknown) => tellRefusal(error, terminal))
      .finally(() => progress.end());
    if (outcome === null) return Exit.negative;
    const { writeOutcome } = await import('./rehearsal-text.js');
    await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(outcome)}\n` : writeOutcome(outcome));
    return outcome.events.some(({ candidate }) => candidate.by === null) ? Exit.negative : Exit.ok;
  },
};

/** The gateway says no: another rehearsal runs, or it forgot this one. */
function tellRefusal(error: unknown, terminal: Terminal): null {
  if (!(error instanceof GatewayRefusal)) throw error;
  terminal.err(`tallypost rehearse: ${error.message} ${error.hint}\n`);
  return null;
}

/** null: a configuration is not valid, and that has been told. */
async function rehearse(
  args: Arguments,
  terminal: Terminal,
  progress: Progress,
): Promise<OutcomeBody | null> {
  const range = rangeOf(args);
  const read = readConfig(args, terminal);
  if (read === null) return null;
  const runningFile = optionalTextOf(args, 'running');
  if (runningFile !== null) {
    if (optionalTextOf(args, 'http') !== null)
      throw new UsageError('--running and --http are one too many.', 'A gateway knows what it runs on.');
    return rehearseHere(args, terminal, progress, { file: runningFile, candidate: read.plan, range });
  }
  const dataDir = optionalTextOf(args, 'data');
  const address = findAddress(args, dataDir);
  if (address === null) {
    throw new UsageError(
      dataDir === null
        ? 'No gateway is known that could say what it runs on.'
        : `No gateway runs on ${dataDir} that could say what it runs on.`,
      dataDir === null
        ? 'Name its data directory with --data or its address with --http; or the running configuration with --running.'
        : 'Name the configuration that ran with --running, or the address of the gateway with --http.',
    );
  }
  return rehearseThere(args, progress, address, range);
}

type Range = ReturnType<typeof rangeOf>;

async function rehearseHere(
  args: Arguments,
  terminal: Terminal,
  progress: Progress,
  wish: { readonly file: string; readonly candidate: Plan; readonly range: Range },
): Promise<OutcomeBody | null> {
  const dataDir = optionalTextOf(args, 'data');
  if (dataDir === null) throw new UsageError('--data DIR is missing: the data directory.');
  const running = loadConfig(wish.file);
  if (!running.ok) {
    for (const problem of running.problems) terminal.err(`${formatProblem(problem)}\n`);
    return null;
  }
  const { runHere } = await import('../rehearsal/run-here.js');
  const { toOutcomeBody } = await import('../api/rehearsal-maps.js');
  const plans = { running: running.plan, candidate: wish.candidate };
  for (const news of runHere(dataDir, { ...plans, ...wish.range })) {
    if (news.kind === 'progress') progress.show(news.share, 1, 'played');
    else if (news.kind === 'done') return toOutcomeBody(news.result);
    else if (news.code === 'refused') throw new UsageError(news.message, news.hint ?? '');
    else throw new CommandFailure(news.message, news.hint ?? '');
  }
  throw new CommandFailure('The rehearsal ended without an answer.');
}

async function rehearseThere(
  args: Arguments,
  progress: Progress,
  address: string,
  { from, to }: Range,
): Promise<OutcomeBody> {
  const { readFileSync } = await import('node:fs');
  const [begin, end] = [formatUtcOrNull(from), formatUtcOrNull(to)];
  const request = {
    configuration: readFileSync(textOf(args, 'config'), 'utf8'),
    ...(begin === null ? {} : { from: begin }),
    ...(end === null ? {} : { to: end }),
  };
  let job = (await askGateway(address, '/api/v1/rehearsals', request)) as RehearsalBody;
  while (job.state === 'running') {
    progress.show(job.share, 1, 'played');
    await new Promise((resolve) => setTimeout(resolve, ASK_EVERY_MS));
    job = (await askGateway(address, `/api/v1/rehearsals/${job.id}`, null)) as RehearsalBody;
  }
  if (job.result !== null) return job.result;
  if (job.failure !== null) throw new CommandFailure(job.failure.detail, job.failure.hint);
  throw new CommandFailure('The rehearsal was cancelled.', 'Begin it again.');
}
