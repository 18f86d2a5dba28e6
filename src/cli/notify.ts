/** `tallypost notify`: tries a route, or says how notification stands. */
import type { z } from 'zod';
import type { notifyBody, notifyTestBody } from '../api/routes/notify.js';
import { type Arguments, type Command, Exit, flagOf, type Terminal, textOf, UsageError } from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { askGateway, findAddress, GatewayRefusal } from './gateway-client.js';
import { writeColumns } from './text-columns.js';

type TestBody = z.output<typeof notifyTestBody>;
type StatusBody = z.output<typeof notifyBody>;

export const notifyCommand: Command = {
  name: 'notify',
  summary: 'try a notification route, or see how notification stands',
  about:
    'test sends a message over a route now and says for each channel what came of it; the message says that it is a\n' +
    'test. While a gateway runs on DIR it sends the message itself, as it would an alarm; otherwise the message is\n' +
    'sent from here, and the configuration is needed. status asks the running gateway what waits and what fails.\n' +
    'Exit 0: every channel and every recipient took it. Exit 1: not so.',
  options: {
    data: { ...DATA_OPTION, required: false },
    config: { ...CONFIG_OPTION, required: false, about: 'the configuration; needed while no gateway runs' },
    http: {
      type: 'string',
      value: 'HOST:PORT',
      about: 'where the gateway listens for HTTP, if not as it said',
    },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [
    { name: 'ACTION', about: 'what to do', least: 1, most: 1, oneOf: ['test', 'status'] },
    { name: 'ROUTE', about: 'the route to try', least: 0, most: 1 },
  ],
  examples: [
    'tallypost notify test shift --data data',
    'tallypost notify test shift --config config/tarn-hollow.yaml',
    'tallypost notify status --data data',
  ],
  async run(args, terminal) {
    const [action, route] = args.positionals;
    const address = findAddress(args, textOf(args, 'data') === '' ? null : textOf(args, 'data'));
    try {
      if (action === 'status') return await showStatus(address, args, terminal);
      if (route === undefined)
        throw new UsageError('ROUTE is missing: the route to try.', 'See "tallypost notify status".');
      const path = `/api/v1/notify/routes/${encodeURIComponent(route)}/test`;
      const body =
        address === null
          ? await testHere(route, args, terminal)
          : ((await askGateway(address, path, {})) as TestBody);
      if (body === null) return Exit.negative;
      await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : describeTest(body));
      return body.ok ? Exit.ok : Exit.negative;
    } catch (error) {
      if (!(error instanceof GatewayRefusal)) throw error;
      terminal.err(`tallypost notify: ${error.message} ${error.hint}\n`);
      return Exit.negative;
    }
  },
};

/** null: the configuration is not valid, and that has been told. */
async function testHere(route: string, args: Arguments, terminal: Terminal): Promise<TestBody | null> {
  if (textOf(args, 'config') === '')
    throw new UsageError(
      'No gateway runs there, and --config FILE is missing.',
      'Name the configuration, or the --data folder of the gateway that runs.',
    );
  const read = readConfig(args, terminal);
  if (read === null) return null;
  const { readNotifySettings } = await import('../gateway-notify.js');
  const { testRoute } = await import('../notify/channels.js');
  const { toTestBody } = await import('../api/routes/notify.js');
  const { settings, warnings } = readNotifySettings(read.config);
  for (const warning of warnings) terminal.err(`warning: ${warning}\n`);
  const results = await testRoute(settings, route, Date.now());
  if (results !== null) return toTestBody(route, results);
  const names = [...settings.plan.routes.keys()];
  throw new UsageError(
    `There is no route "${route}" in the configuration.`,
    names.length === 0 ? 'It has none: see docs/notify.md.' : `It has ${names.join(', ')}.`,
  );
}

function describeTest({ route, ok, channels }: TestBody): string {
  const lines = channels.map(
    ({ channel, ok: isGood, says }) => `${isGood ? 'good' : 'BAD '}  ${channel}: ${says}`,
  );
  return `${[`route ${route} ${ok ? 'works' : 'does not work'}`, ...lines].join('\n')}\n`;
}

async function showStatus(address: string | null, args: Arguments, terminal: Terminal): Promise<Exit> {
  if (address === null)
    throw new UsageError(
      'No gateway runs there.',
      'Name the --data folder of the gateway that runs, or its --http address.',
    );
  const body = (await askGateway(address, '/api/v1/notify', null)) as StatusBody;
  await terminal.out(flagOf(args, 'json') ? `${JSON.stringify(body)}\n` : describeStatus(body));
  return body.channels.some(({ state }) => state === 'failing') ? Exit.negative : Exit.ok;
}

function describeStatus({ routes, channels }: StatusBody): string {
  if (routes.length === 0) return 'No route is configured: nobody is told beside MQTT and the page.\n';
  const stamp = (at: string | null): string => (at === null ? 'never' : `${at.slice(0, 19)}Z`);
  const routeRows = routes.map(({ route, open, waiting, due_at: dueAt, limited, escalating }) => [
    ...[route, open ? 'open' : 'closed', String(waiting), String(escalating)],
    limited ? 'its limit holds messages up' : dueAt === null ? '' : `next message at ${stamp(dueAt)}`,
  ]);
  const channelRows = channels.map((one) => [
    ...[one.channel, one.state, String(one.waiting), stamp(one.last_success_at)],
    [
      one.last_error_at === null ? '' : `${stamp(one.last_error_at)} ${one.last_error}`,
      one.lost === 0 ? '' : `${one.lost} messages lost`,
      one.refused.length === 0 ? '' : `refused: ${one.refused.join(', ')}`,
    ]
      .filter((text) => text !== '')
      .join('; '),
  ]);
  return [
    writeColumns(['route', 'window', 'alarms', 'to escalate', ''], routeRows, [2, 3]),
    writeColumns(['channel', 'state', 'waiting', 'last success', 'last error'], channelRows, [2]),
  ].join('\n');
}
