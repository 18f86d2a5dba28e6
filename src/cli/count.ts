/** `tallypost count`: a count over a set time at one sensor, of the past from the store, or from now on by the gateway. */
import {
  COUNT_DEFAULT_MS,
  COUNT_LEAST_MS,
  COUNT_MOST_MS,
  COUNT_PAST_MOST_MS,
  writeCount,
  type CountBody,
  type LiveCountBody,
} from '../../shared/counts.js';
import { parseSensorKey } from '../../shared/names.js';
import type { CountQuery } from '../core/timed-count.js';
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
import { describeCount } from './count-text.js';
import { durationOf } from './duration-argument.js';
import { askGateway, findAddress } from './gateway-client.js';
import { openProgress } from './progress.js';
import { rangeOf } from './time-argument.js';

const ASK_EVERY_MS = 1_000;
/** A stretch of the past may be shorter than a live count. */
const PAST_LEAST_MS = 1_000;

export const countCommand: Command = {
  name: 'count',
  summary: 'count over a set time, to compare with a portable counter',
  about:
    'Counts at one sensor over a set time: the pulses of whole increments, the time they really cover,\n' +
    'their classes, and run state and operating condition beside them. Of the past: between two marks,\n' +
    'or --for a time from or up to one; without marks the newest minute that is classified. With --live\n' +
    'from now on, 10 s to 10 min, by the gateway that runs. Compare only with a counter held at the same\n' +
    'place for the same time under the same condition. Exit code 1 when nothing was counted.',
  options: {
    sensor: { type: 'string', value: 'M/P', about: 'the sensor', required: true },
    data: { ...DATA_OPTION, required: false, about: 'the data directory; with --live, to find the gateway' },
    config: {
      ...CONFIG_OPTION,
      required: false,
      about: 'of the past: for dead time, heartbeat and missing run state',
    },
    from: { type: 'string', value: 'TIME', about: 'where it begins' },
    to: { type: 'string', value: 'TIME', about: 'where it ends' },
    for: { type: 'string', value: 'LENGTH', about: 'how long, such as 60s or 5min; 60s unless given' },
    live: { type: 'boolean', about: 'from now on' },
    http: { type: 'string', value: 'HOST:PORT', about: 'where the gateway listens for HTTP, for --live' },
    json: { type: 'boolean', about: 'the count as one JSON object' },
  },
  positionals: [],
  examples: [
    'tallypost count --data data --sensor pump-1/de --from 2026-03-02T06:00:00Z --for 60s',
    'tallypost count --data data --sensor pump-1/de --live --for 2min',
  ],
  async run(args, terminal) {
    const sensor = textOf(args, 'sensor');
    if (parseSensorKey(sensor) === null)
      throw new UsageError(`--sensor "${sensor}" is no sensor.`, 'Write MOTOR/POSITION, such as pump-1/de.');
    const count = flagOf(args, 'live')
      ? await countLive(sensor, args, terminal)
      : await countPast(sensor, args, terminal);
    if (count === null) return Exit.negative;
    await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(count)}\n` : describeCount(count));
    return count.covered === null ? Exit.negative : Exit.ok;
  },
};

/** null: the configuration is not valid, and that has been told. */
async function countPast(sensor: string, args: Arguments, terminal: Terminal): Promise<CountBody | null> {
  const dataDir = optionalTextOf(args, 'data');
  if (dataDir === null) throw new UsageError('--data DIR is missing: the data directory.');
  if (optionalTextOf(args, 'http') !== null)
    throw new UsageError('--http is for --live.', 'Leave it out, or add --live.');
  const range = rangeOf(args);
  const forMs = durationOf(args, 'for', PAST_LEAST_MS, COUNT_PAST_MOST_MS);
  if (range.from !== null && range.to !== null && forMs !== null)
    throw new UsageError('--from, --to and --for are one too many.', 'Leave one of them out.');
  const known = readKnown(sensor, args, terminal);
  if (known === null) return null;
  const { openReader } = await import('../store/reader.js');
  const { readNewestEnd } = await import('../store/read-count.js');
  const reader = openReader(dataDir);
  try {
    const newest = readNewestEnd(reader, sensor);
    if (newest === null)
      throw new CommandFailure(`There are no increments of ${sensor} in ${dataDir}.`, 'Check the name.');
    const { from, to } = placeRange(range, forMs ?? COUNT_DEFAULT_MS, newest);
    if (to - from > COUNT_PAST_MOST_MS)
      throw new UsageError('A count is of 7 days at most.', 'For more see "tallypost export rollups".');
    return writeCount(reader.count({ sensor, from, to, ...known }));
  } finally {
    reader.close();
  }
}

function placeRange(
  { from, to }: { from: number | null; to: number | null },
  forMs: number,
  newest: number,
): { from: number; to: number } {
  if (from !== null) return { from, to: to ?? from + forMs };
  const end = to ?? newest;
  return { from: end - forMs, to: end };
}

/** What the store does not say. Without a configuration: a drive that reports on change, a sensor without dead time. */
function readKnown(
  sensor: string,
  args: Arguments,
  terminal: Terminal,
): Omit<CountQuery, 'sensor' | 'from' | 'to'> | null {
  if (optionalTextOf(args, 'config') === null) return { hasRunState: true, heartbeatMs: null, deadTimeS: 0 };
  const read = readConfig(args, terminal);
  if (read === null) return null;
  const planned = read.plan.sensors.get(sensor);
  if (planned === undefined)
    throw new UsageError(`The configuration has no sensor ${sensor}.`, 'Check the name.');
  const { hasRunState, heartbeatMs } = read.plan.motors.get(planned.motor)!;
  return { hasRunState, heartbeatMs, deadTimeS: planned.deadTimeS };
}

async function countLive(sensor: string, args: Arguments, terminal: Terminal): Promise<CountBody> {
  for (const name of ['from', 'to', 'config'])
    if (optionalTextOf(args, name) !== null)
      throw new UsageError(`--${name} does not go with --live.`, 'A live count begins now; give --for.');
  const forMs = durationOf(args, 'for', COUNT_LEAST_MS, COUNT_MOST_MS) ?? COUNT_DEFAULT_MS;
  const address = findAddress(args, optionalTextOf(args, 'data'));
  if (address === null)
    throw new UsageError(
      'No gateway is known.',
      'Name its data directory with --data, or its address with --http.',
    );
  const progress = openProgress(terminal);
  try {
    let live = (await askGateway(address, '/api/v1/counts', { sensor, for_ms: forMs })) as LiveCountBody;
    while (live.result === null) {
      const text = live.state === 'counting' ? 'counting' : 'waiting for the last readings';
      progress.show(live.progress, 1, text);
      await new Promise((resolve) => setTimeout(resolve, ASK_EVERY_MS));
      live = (await askGateway(address, `/api/v1/counts/${live.id}`, null)) as LiveCountBody;
    }
    return live.result;
  } finally {
    progress.end();
  }
}
