/**
 * `tallypost note`: what was done to a motor, and what an inspection found. A gateway that runs on the data directory takes
 * the entry itself; otherwise it goes into the store here, through the same core and transaction.
 */
import { describeFinding } from '../../shared/inspection-terms.js';
import type { ActionBody, FindingBody } from '../../shared/maintenance.js';
import { actionRequest, findingRequest } from '../../shared/maintenance.js';
import { describeAction, describeEnd } from '../../shared/maintenance-terms.js';
import { writeAction, writeFinding } from '../../shared/write-maintenance.js';
import type { EntryRefusal, MaintenanceCall } from '../engine/maintenance-calls.js';
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
import type { Page } from '../store/page.js';
import { askGateway, findAddress, GatewayRefusal } from './gateway-client.js';
import { describeWords, NOTE_OPTIONS, type NoteWish, readWish } from './note-arguments.js';
import { TERMINAL_COLUMNS, wrapText, writeColumns } from './text-columns.js';

const PAGE_ROWS = 500;

export const noteCommand: Command = {
  name: 'note',
  summary: 'enter what was done to a motor, or what an inspection found',
  about:
    'Enters a maintenance action or the finding of an inspection, for comparing before with after.\n' +
    'Entries may be backdated and withdrawn, never changed or erased. While a gateway runs on DIR the\n' +
    'entry goes through it; otherwise it goes into the store here, and the configuration is needed.\n' +
    'A finding is what a person saw; nothing is concluded from it.\n\n' +
    describeWords(),
  options: {
    data: DATA_OPTION,
    config: { ...CONFIG_OPTION, required: false, about: 'the configuration; needed while no gateway runs' },
    http: {
      type: 'string',
      value: 'HOST:PORT',
      about: 'where the gateway listens for HTTP, if not as it said',
    },
    ...NOTE_OPTIONS,
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: [
    'tallypost note --data data --motor pump-1 --action regreased --end de --by "J. Field" --note "20 g"',
    'tallypost note --data data --motor pump-1 --action bearing-replaced --end nde --bearing insulated \\\n' +
      '      --at 2026-03-02T09:30:00Z --by "J. Field"',
    'tallypost note --data data --motor pump-1 --finding --end nde --removed --sign fluting --by "J. Field"',
    'tallypost note --data data --list --motor pump-1',
    'tallypost note --data data --withdraw 12 --by "K. Desk" --note "it was pump-2"',
  ],
  async run(args, terminal) {
    const wish = readWish(args);
    if (wish.do === 'list') return list(wish.motor, args, terminal);
    const call = await toCall(wish, textOf(args, 'data'));
    const address = findAddress(args, textOf(args, 'data'));
    try {
      const body =
        address === null ? await enterHere(call, args, terminal) : await enterThere(call, wish, address);
      if (body === null) return Exit.negative;
      await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : describeEntry(body));
      return Exit.ok;
    } catch (error) {
      if (!(error instanceof GatewayRefusal)) throw error;
      terminal.err(`tallypost note: ${error.message} ${error.hint}\n`);
      return Exit.negative;
    }
  },
};

type Body = ActionBody | FindingBody;

/** A withdrawal names a number only: whose it is stands in the store. */
async function toCall(wish: Exclude<NoteWish, { do: 'list' }>, dataDir: string): Promise<MaintenanceCall> {
  if (wish.do === 'enter-action') return { ...wish, entry: actionRequest.parse(wish.entry) };
  if (wish.do === 'enter-finding') return { ...wish, entry: findingRequest.parse(wish.entry) };
  const { openReader } = await import('../store/reader.js');
  const { findEntry } = await import('../store/read-maintenance.js');
  const reader = openReader(dataDir);
  try {
    const entry = findEntry(reader, wish.id);
    if (entry === null)
      throw new UsageError(
        `There is no entry ${wish.id}.`,
        'See "tallypost note --list" for those there are.',
      );
    return { ...wish, ...entry };
  } finally {
    reader.close();
  }
}

async function enterThere(call: MaintenanceCall, wish: NoteWish, address: string): Promise<Body> {
  const motor = `/api/v1/motors/${encodeURIComponent(call.motor)}`;
  if (call.do === 'withdraw') {
    const { by, note } = call;
    return (await askGateway(address, `${motor}/${call.of}s/${call.id}/withdraw`, { by, note })) as Body;
  }
  const list = call.do === 'enter-action' ? 'actions' : 'findings';
  return (await askGateway(address, `${motor}/${list}`, 'entry' in wish ? wish.entry : {})) as Body;
}

/** null: the configuration is not valid, and that has been told. */
async function enterHere(call: MaintenanceCall, args: Arguments, terminal: Terminal): Promise<Body | null> {
  const dataDir = textOf(args, 'data');
  if (optionalTextOf(args, 'config') === null) {
    throw new UsageError(
      `No gateway runs on ${dataDir}, and --config FILE is missing.`,
      'Name the configuration, or start the gateway.',
    );
  }
  const read = readConfig(args, terminal);
  if (read === null) return null;
  const { openReader } = await import('../store/reader.js');
  const { enterOffline } = await import('../engine/offline.js');
  openReader(dataDir).close(); // a folder without a store is told, not made
  const { minCommitIntervalMs, walBytesMax, retention } = read.config.storage;
  const storage = { walBytesMax, retention };
  const result = enterOffline({ dataDir, plan: read.plan, minCommitIntervalMs, storage }, call);
  if (!result.ok) throw explainRefusal(result.reason, call);
  return 'action' in result.row ? writeAction(result.row) : writeFinding(result.row);
}

function explainRefusal(reason: EntryRefusal, call: MaintenanceCall): Error {
  const { motor } = call;
  switch (reason) {
    case 'unknown-motor':
      return new UsageError(`There is no motor "${motor}" in the configuration.`, 'Check the name.');
    case 'unknown-place':
      return new UsageError(
        `${motor} has no such place.`,
        'Give de, nde, both or a position of its sensors.',
      );
    case 'in-the-future':
      return new UsageError('--at lies in the future.', 'Enter what has been done, when it has been done.');
    case 'no-such-entry':
      return new GatewayRefusal(404, `${motor} has no such entry.`, 'See "tallypost note --list".');
    case 'withdrawn-already':
      return new GatewayRefusal(409, 'The entry is withdrawn already.', 'Nothing need be done.');
  }
}

async function list(motor: string | null, args: Arguments, terminal: Terminal): Promise<Exit> {
  const { openReader } = await import('../store/reader.js');
  const reader = openReader(textOf(args, 'data'));
  try {
    const query = { motor, from: null, to: null, limit: PAGE_ROWS };
    const actions = readAll((cursor) => reader.actions({ ...query, cursor })).map(writeAction);
    const findings = readAll((cursor) => reader.findings({ ...query, cursor })).map(writeFinding);
    if (flagOf(args, 'json')) await terminal.out(`${JSON.stringify({ actions, findings })}\n`);
    else await terminal.out(describeEntries([...actions, ...findings]));
    return Exit.ok;
  } finally {
    reader.close();
  }
}

/** Page after page until there is none. */
function readAll<T>(ask: (cursor: string | null) => Page<T>): T[] {
  const items: T[] = [];
  for (let page = ask(null); ; page = ask(page.next)) {
    items.push(...page.items);
    if (page.next === null) return items;
  }
}

function describeEntries(entries: readonly Body[]): string {
  if (entries.length === 0) return 'Nothing has been entered.\n';
  const ordered = [...entries].sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : a.id - b.id));
  const rows = ordered.map((entry) => [
    ...[String(entry.id), `${entry.at.slice(0, 16)}Z`, entry.motor, entry.by],
    `${describeEntryText(entry)}${entry.withdrawn === null ? '' : ` [withdrawn by ${entry.withdrawn.by}: ${entry.withdrawn.note}]`}`,
  ]);
  return writeColumns(['id', 'when', 'motor', 'who', 'what'], rows, [0]);
}

function describeEntryText(entry: Body): string {
  if ('action' in entry) return describeAction(entry);
  return `found at the ${describeEnd(entry.end)}${entry.removed ? ', bearing removed' : ''}: ${describeFinding(entry)}`;
}

function describeEntry(entry: Body): string {
  const { id, motor, at, withdrawn } = entry;
  const text =
    withdrawn === null
      ? `entry ${id}: ${motor}, ${at.slice(0, 16)}Z, ${describeEntryText(entry)}`
      : `entry ${id} of ${motor} is withdrawn: ${withdrawn.note}`;
  return `${wrapText(text, TERMINAL_COLUMNS).join('\n')}\n`;
}
