/** `tallypost sinks`: how forwarding stands, its proofs, and what people ask of it. */
import type { z } from 'zod';
import {
  toLedgerBody,
  toTestBody,
  type sinkBackfillBody,
  type sinkLedgerBody,
  type sinkLedgerPage,
  type sinkRetryBody,
  type sinksBody,
  type sinkTestBody,
} from '../api/routes/sinks.js';
import { LIMIT_MOST } from '../api/parameters.js';
import { formatUtc } from '../../shared/time.js';
import {
  type Arguments,
  type Command,
  Exit,
  flagOf,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { askGateway, findAddress, GatewayRefusal } from './gateway-client.js';
import { DAY_MS, makeSinkHere, proveHere, readLedgerHere, testHere, type SinkPlace } from './sink-offline.js';
import { describeLedger, describeProof, describeSinks } from './sink-text.js';
import { rangeOf } from './time-argument.js';

const ACTIONS = ['list', 'status', 'ledger', 'prove', 'retry', 'test', 'prepare', 'backfill'] as const;

export const sinksCommand: Command = {
  name: 'sinks',
  summary: 'see how forwarding stands, prove it, try a sink, send a stretch again',
  about:
    'list shows the sinks of the configuration. status asks the running gateway how each stands. ledger shows that\n' +
    'produced = delivered + superseded + pending + quarantined + expired, stream by stream; exit 1 if it does not add up.\n' +
    'prove asks the receiver what it holds of whole days (UTC; yesterday unless given) and compares it with the store;\n' +
    'exit 1 on any difference. retry sends again what was refused for good. test sends one marked record and says what\n' +
    'came of it. prepare creates or checks what the receiver needs. backfill sends a stretch again from the store.',
  options: {
    data: { ...DATA_OPTION, required: false },
    config: {
      ...CONFIG_OPTION,
      required: false,
      about: 'the configuration; for list, prove, prepare, and test without a gateway',
    },
    http: {
      type: 'string',
      value: 'HOST:PORT',
      about: 'where the gateway listens for HTTP, if not as it said',
    },
    day: { type: 'string', value: 'YYYY-MM-DD', about: 'prove: one day' },
    from: { type: 'string', value: 'TIME', about: 'prove, backfill: from here on' },
    to: { type: 'string', value: 'TIME', about: 'prove, backfill: up to here' },
    stream: { type: 'string', value: 'LIST', about: 'backfill: these streams only, such as rollups,alarms' },
    period: {
      type: 'string',
      value: 'LIST',
      about: 'backfill: rollups of these periods only, such as 10m,1h',
    },
    sensor: { type: 'string', value: 'NAME', about: 'backfill: this sensor or motor only' },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [
    { name: 'ACTION', about: 'what to do', least: 1, most: 1, oneOf: ACTIONS },
    { name: 'SINK', about: 'which; not for list and status', least: 0, most: 1 },
  ],
  examples: [
    'tallypost sinks status --data data',
    'tallypost sinks prove plant-files --config config/tarn-hollow.yaml --data data --day 2026-03-01',
    'tallypost sinks backfill historian --data data --from 2026-03-01T00:00:00Z --to 2026-03-04T00:00:00Z',
  ],
  async run(args, terminal) {
    const [action, sink] = args.positionals as [(typeof ACTIONS)[number], string | undefined];
    try {
      if (action === 'list') return await list(args, terminal);
      if (action === 'status') return await showStatus(args, terminal);
      if (sink === undefined)
        throw new UsageError('SINK is missing.', 'See "tallypost sinks list" and "sinks status".');
      return await DO[action](sink, args, terminal);
    } catch (error) {
      if (!(error instanceof GatewayRefusal)) throw error;
      terminal.err(`tallypost sinks: ${error.message} ${error.hint}\n`);
      return Exit.negative;
    }
  },
};

type Action = (sink: string, args: Arguments, terminal: Terminal) => Promise<Exit>;

const DO: Readonly<Record<Exclude<(typeof ACTIONS)[number], 'list' | 'status'>, Action>> = {
  ledger: showLedger,
  prove,
  retry,
  test: tryOut,
  prepare,
  backfill,
};

function addressOf(args: Arguments): string | null {
  return findAddress(args, textOf(args, 'data') === '' ? null : textOf(args, 'data'));
}

function requireAddress(args: Arguments): string {
  const address = addressOf(args);
  if (address !== null) return address;
  throw new UsageError(
    'No gateway runs there.',
    'Name the --data folder of the gateway that runs, or its --http address.',
  );
}

function requireData(args: Arguments): string {
  const dataDir = textOf(args, 'data');
  if (dataDir === '')
    throw new UsageError('--data DIR is missing.', 'Name the folder that the gateway writes to.');
  return dataDir;
}

/** Null: the configuration is not valid, and that has been told. */
function placeOf(args: Arguments, terminal: Terminal): SinkPlace | null {
  if (textOf(args, 'config') === '')
    throw new UsageError('--config FILE is missing.', 'Name the configuration that has the sink.');
  const read = readConfig(args, terminal);
  return read === null ? null : { ...read, dataDir: textOf(args, 'data') };
}

async function list(args: Arguments, terminal: Terminal): Promise<Exit> {
  const place = placeOf(args, terminal);
  if (place === null) return Exit.negative;
  const sinks = place.config.sinks.map(({ name, kind, streams, periods }) => ({
    name,
    kind,
    streams,
    periods,
  }));
  const lines = sinks.map(
    ({ name, kind, streams, periods }) =>
      `${name}: ${kind}, ${streams.join(', ')}; rollups of ${periods.join(', ')}\n`,
  );
  const text =
    lines.length === 0 ? 'No sink is configured: nothing is forwarded. See docs/sinks.md.\n' : lines.join('');
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify({ sinks })}\n` : text);
  return Exit.ok;
}

async function showStatus(args: Arguments, terminal: Terminal): Promise<Exit> {
  const body = (await askGateway(requireAddress(args), '/api/v1/sinks', null)) as z.output<typeof sinksBody>;
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : describeSinks(body));
  return body.sinks.some(({ state }) => state === 'failing') ? Exit.negative : Exit.ok;
}

async function showLedger(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  const address = addressOf(args);
  const body =
    address === null ? toLedgerBody(readLedgerHere(requireData(args), sink)) : await askLedger(address, sink);
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : describeLedger(body));
  return body.balanced ? Exit.ok : Exit.negative;
}

/** All pages of it. */
async function askLedger(address: string, sink: string): Promise<z.output<typeof sinkLedgerBody>> {
  const query = new URLSearchParams({ limit: String(LIMIT_MOST) });
  const lines: z.output<typeof sinkLedgerBody>['lines'] = [];
  for (;;) {
    const path = `${pathOf(sink, 'ledger')}?${query.toString()}`;
    const { next, ...page } = (await askGateway(address, path, null)) as z.output<typeof sinkLedgerPage>;
    lines.push(...page.lines);
    if (next === null) return { ...page, lines };
    query.set('cursor', next);
  }
}

function pathOf(sink: string, what: string): string {
  return `/api/v1/sinks/${encodeURIComponent(sink)}/${what}`;
}

async function prove(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  requireData(args);
  const { from, to } = daysOf(args);
  const place = placeOf(args, terminal);
  if (place === null) return Exit.negative;
  const opened = makeSinkHere(place, sink, (text) => terminal.err(`${text}\n`));
  const result = await proveHere(place, opened, from, to);
  const json = {
    ...{ sink, from: formatUtc(from), to: formatUtc(to), compared: result.compared },
    differences: result.differences.map((one) => ({ ...one, day: formatUtc(one.day).slice(0, 10) })),
  };
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(json)}\n` : describeProof(sink, result));
  return result.differences.length === 0 ? Exit.ok : Exit.negative;
}

/** Whole days, UTC; yesterday where nothing is said. */
function daysOf(args: Arguments): { from: number; to: number } {
  const text = optionalTextOf(args, 'day');
  if (text !== null) {
    const day = /^\d{4}-\d{2}-\d{2}$/.test(text) ? Date.parse(`${text}T00:00:00Z`) : Number.NaN;
    if (Number.isNaN(day)) throw new UsageError(`--day "${text}" is no day.`, 'Write it like 2026-03-01.');
    return { from: day, to: day + DAY_MS };
  }
  const range = rangeOf(args);
  const today = Date.now() - (Date.now() % DAY_MS);
  const to = range.to ?? (range.from === null ? today : Math.max(today, range.from + DAY_MS));
  const from = range.from ?? to - DAY_MS;
  return { from: from - (from % DAY_MS), to: Math.ceil(to / DAY_MS) * DAY_MS };
}

async function retry(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  const body = (await askGateway(requireAddress(args), pathOf(sink, 'retry'), {})) as z.output<
    typeof sinkRetryBody
  >;
  const text =
    body.records === 0
      ? 'Nothing is quarantined.\n'
      : `${body.records} records are sent again: see "tallypost sinks status".\n`;
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : text);
  return Exit.ok;
}

async function tryOut(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  const address = addressOf(args);
  let body: z.output<typeof sinkTestBody>;
  if (address !== null) body = (await askGateway(address, pathOf(sink, 'test'), {})) as typeof body;
  else {
    const place = placeOf(args, terminal);
    if (place === null) return Exit.negative;
    body = toTestBody(sink, await testHere(makeSinkHere(place, sink, (text) => terminal.err(`${text}\n`))));
  }
  await terminal.out(
    flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : `${body.ok ? 'good' : 'BAD'}: ${body.says}\n`,
  );
  return body.ok ? Exit.ok : Exit.negative;
}

async function prepare(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  const place = placeOf(args, terminal);
  if (place === null) return Exit.negative;
  const { settings, sink: opened, warnings } = makeSinkHere(place, sink, (text) => terminal.err(`${text}\n`));
  for (const warning of warnings) terminal.err(`warning: ${warning}\n`);
  if (opened.prepare === undefined) {
    await terminal.out(`A sink of the kind ${settings.kind} needs no preparation.\n`);
    return Exit.ok;
  }
  try {
    const lines = await opened.prepare(AbortSignal.timeout(settings.deadlineMs * 4));
    await terminal.out(
      flagOf(args, 'json')
        ? `${JSON.stringify({ sink, lines })}\n`
        : lines.map((line) => `${line}\n`).join(''),
    );
    return Exit.ok;
  } catch (error) {
    terminal.err(
      `tallypost sinks: ${sink} is not prepared: ${error instanceof Error ? error.message : String(error)}\n`,
    );
    return Exit.negative;
  } finally {
    await opened.close();
  }
}

async function backfill(sink: string, args: Arguments, terminal: Terminal): Promise<Exit> {
  const { from, to } = rangeOf(args);
  if (from === null || to === null)
    throw new UsageError('--from and --to are missing.', 'Name the stretch that is sent again.');
  const listOf = (name: string): string[] | undefined => optionalTextOf(args, name)?.split(',');
  const wish = {
    ...{ from: formatUtc(from), to: formatUtc(to) },
    ...{
      streams: listOf('stream'),
      periods: listOf('period'),
      subject: optionalTextOf(args, 'sensor') ?? undefined,
    },
  };
  const body = (await askGateway(requireAddress(args), pathOf(sink, 'backfill'), wish)) as z.output<
    typeof sinkBackfillBody
  >;
  const text = `Backfill ${body.id} is under way, at the pace of the sink: see "tallypost sinks status".\n`;
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : text);
  return Exit.ok;
}
