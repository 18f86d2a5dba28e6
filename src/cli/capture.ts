/**
 * `tallypost capture`: takes messages as the gateway would, with the same logins and rights, but only writes them down.
 */
import { rm } from 'node:fs/promises';
import type { Logger } from 'pino';
import type { Config } from '../config/config.js';
import { formatEndpoint, isLoopback } from '../config/endpoint.js';
import type { Intake } from '../intake/intake.js';
import type { CaptureWriter } from '../engine/capture-file.js';
import { type Command, CommandFailure, Exit, flagOf, numberOf, type Terminal } from './command.js';
import { CONFIG_OPTION, endpointOf, MQTT_OPTION, readConfig } from './config-argument.js';
import { explainAddress } from './listen-refusal.js';

const TICK_MS = 1000;
const DAY_S = 86_400;

export const captureCommand: Command = {
  name: 'capture',
  summary: 'record what arrives, in the format that replay reads',
  about:
    'Listens for MQTT as the gateway would and writes everything that arrives to OUT, with its time, connections and the\n' +
    "ticks of this machine's clock, until SIGINT or for --seconds. Nothing is counted and no store is needed. Use it in\n" +
    'place of a gateway, not beside one on the same port. Lines are not synced one by one: after a power cut the last\n' +
    'ones may be missing.',
  options: {
    config: CONFIG_OPTION,
    mqtt: MQTT_OPTION,
    seconds: { type: 'string', value: 'N', about: 'stop after so many seconds' },
    json: { type: 'boolean', about: 'the summary as one JSON object' },
  },
  positionals: [
    { name: 'OUT', about: 'the file to write, packed when its name ends in .gz', least: 1, most: 1 },
  ],
  examples: ['tallypost capture --config config/minimal.yaml --seconds 600 morning.ndjson.gz'],
  async run(args, terminal) {
    const seconds = numberOf(args, 'seconds', 0.1, 366 * DAY_S);
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const endpoint = endpointOf(args, 'mqtt') ?? read.config.mqtt.listen;
    if (read.config.mqtt.users === null && !isLoopback(endpoint)) {
      throw new CommandFailure(
        `Without users in the configuration it listens on loopback only, not on ${formatEndpoint(endpoint)}.`,
        'Add mqtt.users, or use 127.0.0.1.',
      );
    }
    const out = args.positionals[0] ?? '';
    const { CaptureWriter } = await import('../engine/capture-file.js');
    const { openLog } = await import('./log.js');
    const writer = new CaptureWriter(out);
    const log = openLog('warn', terminal.isErrTty);
    const intake = await listen(
      { ...read.config, mqtt: { ...read.config.mqtt, listen: endpoint } },
      writer,
      log,
    ).catch(async (error: unknown) => {
      await dropEmpty(writer, out);
      throw explainAddress(error, 'MQTT', endpoint);
    });
    terminal.err(
      `listening on mqtt://${formatEndpoint({ ...endpoint, port: intake.port })}, writing ${out}\n`,
    );
    const ticking = setInterval(() => writer.write({ kind: 'tick', arrived: Date.now() }), TICK_MS);
    await waitForEnd(seconds, writer);
    clearInterval(ticking);
    await intake.stop();
    await writer.close();
    return tell(out, intake, writer, flagOf(args, 'json'), terminal);
  },
};

/** A file without a line would look like a capture of silence. One that was there before is not ours: then `close` rejects. */
async function dropEmpty(writer: CaptureWriter, out: string): Promise<void> {
  const isOurs = await writer.close().then(
    () => true,
    () => false,
  );
  if (isOurs && writer.lines === 0) await rm(out, { force: true });
}

async function listen(config: Config, writer: CaptureWriter, log: Logger): Promise<Intake> {
  const { startBroker } = await import('../intake/broker.js');
  const { readLogins } = await import('./logins.js');
  const intake: Intake = await startBroker({
    site: config.site,
    host: config.mqtt.listen.host,
    port: config.mqtt.listen.port,
    limits: config.mqtt,
    minCommitIntervalMs: config.storage.minCommitIntervalMs,
    logins: readLogins(config),
    persistentClients: config.mqtt.persistentClients,
    log,
    now: () => Date.now(),
    submit: ({ id, buffer }) => intake.settle(id, [], buffer),
    interestChanged: () => undefined,
  });
  intake.setTap((arrival) => writer.write(arrival));
  intake.resume();
  return intake;
}

/** Until a signal, the time is over, or the disk fails. */
async function waitForEnd(seconds: number | null, writer: CaptureWriter): Promise<void> {
  await new Promise<void>((resolve) => {
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => resolve());
    if (seconds !== null) setTimeout(resolve, seconds * 1000);
    const watching = setInterval(() => {
      if (writer.fault === null) return;
      clearInterval(watching);
      resolve();
    }, TICK_MS);
    watching.unref();
  });
}

async function tell(
  out: string,
  intake: Intake,
  writer: CaptureWriter,
  isJson: boolean,
  terminal: Terminal,
): Promise<Exit> {
  const { received, acknowledged } = intake.figures();
  const summary = { path: out, messages: received, acknowledged, lines: writer.lines };
  await terminal.out(
    isJson
      ? `${JSON.stringify(summary)}\n`
      : `${out}: ${received} messages, ${acknowledged} acknowledged, ${writer.lines} lines\n`,
  );
  return Exit.ok;
}
