/** `tallypost run`: the gateway, until a signal ends it. */
import { mkdirSync } from 'node:fs';
import type { Logger } from 'pino';
import { describeChange, reloadConfig } from '../config/change.js';
import type { Config } from '../config/config.js';
import { formatProblem } from '../config/problem.js';
import type { Gateway } from '../gateway.js';
import { type Command, CommandFailure, Exit, textOf } from './command.js';
import {
  CONFIG_OPTION,
  DATA_OPTION,
  endpointOf,
  HTTP_OPTION,
  MQTT_OPTION,
  readConfig,
} from './config-argument.js';
import { letHelpersGiveWay } from './give-way.js';
import { findGateway, removeGatewayFile, writeGatewayFile } from './gateway-file.js';
import type { Station } from './station.js';

export const runCommand: Command = {
  name: 'run',
  summary: 'run the gateway',
  about:
    'Runs the gateway: takes readings and drive states over MQTT, keeps its store in DIR, serves HTTP and the page.\n' +
    'SIGHUP reads the configuration again; SIGINT or SIGTERM stops it cleanly. Nothing acknowledged is lost in any\n' +
    'case. The log goes to standard error: short lines on a terminal, JSON lines elsewhere.',
  options: {
    config: CONFIG_OPTION,
    data: DATA_OPTION,
    mqtt: MQTT_OPTION,
    http: HTTP_OPTION,
    log: {
      type: 'string',
      value: 'LEVEL',
      about: 'least level that is logged; info unless given',
      oneOf: ['debug', 'info', 'warn', 'error', 'silent'],
    },
  },
  positionals: [],
  examples: [
    'tallypost run --config config/minimal.yaml --data data',
    'tallypost run --config config/tarn-hollow.yaml --data data --mqtt 127.0.0.1:0 --http 127.0.0.1:0',
  ],
  async run(args, terminal) {
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const dataDir = textOf(args, 'data');
    refuseSecond(dataDir);
    mkdirSync(dataDir, { recursive: true });
    const { openLog } = await import('./log.js');
    const log = openLog(textOf(args, 'log', 'info'), terminal.isErrTty);
    letHelpersGiveWay();
    const { startStation } = await import('./station.js');
    const station = await startStation({
      ...read,
      dataDir,
      mqtt: endpointOf(args, 'mqtt') ?? read.config.mqtt.listen,
      http: endpointOf(args, 'http') ?? read.config.http.listen,
      log,
    });
    writeGatewayFile(dataDir, {
      pid: process.pid,
      http: station.http,
      mqtt: station.mqtt,
      startedAt: new Date().toISOString(),
    });
    tellStart(read.config, station, log);
    try {
      await superviseStation(station, textOf(args, 'config'), read.config, log);
    } finally {
      removeGatewayFile(dataDir);
    }
    return Exit.ok;
  },
};

/** The store refuses a second writer as well; this one can say who the first is. */
function refuseSecond(dataDir: string): void {
  const other = findGateway(dataDir);
  if (other === null || other.pid === process.pid) return;
  throw new CommandFailure(
    `A gateway runs on ${dataDir} already: process ${other.pid}, ${other.http}.`,
    'Stop it first, or give this one another --data folder.',
  );
}

function tellStart(config: Config, { mqtt, http, gateway }: Station, log: Logger): void {
  const sensors = config.motors.reduce((sum, motor) => sum + motor.positions.length, 0);
  log.info(
    { mqtt, http, page: `${http}/`, site: config.site, motors: config.motors.length, sensors },
    `listening: MQTT on ${mqtt}, HTTP and the page on ${http}/`,
  );
  if (config.mqtt.users === null) {
    log.info(
      {},
      'no users are configured: only this machine may connect, and whoever is on it may publish and read',
    );
  }
  const { ok, reasons } = gateway.ready();
  if (!ok) log.error({ reasons }, 'not ready: nothing can be stored at the moment');
}

/** Reloads at SIGHUP; stops at SIGINT or SIGTERM, a second one of which does not wait for the rest. */
async function superviseStation(station: Station, file: string, first: Config, log: Logger): Promise<void> {
  let running = first;
  let reloading: Promise<void> = Promise.resolve();
  const onReload = (): void => {
    reloading = reloading.then(async () => {
      running = await reloadStation(station, file, running, log);
    });
  };
  process.on('SIGHUP', onReload);
  const signal = await new Promise<string>((resolve) => {
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => resolve(name));
  });
  process.off('SIGHUP', onReload);
  for (const name of ['SIGINT', 'SIGTERM'] as const) {
    process.once(name, () => {
      log.warn({ signal: name }, 'a second signal: ended at once; nothing acknowledged is lost');
      process.exit(Exit.failure);
    });
  }
  log.info({ signal }, 'stopping');
  await reloading;
  await station.stop();
  log.info({}, 'stopped');
}

/** Returns the configuration that runs afterwards: the new one, or on any problem the old one. */
async function reloadStation(station: Station, file: string, running: Config, log: Logger): Promise<Config> {
  const { gateway, notify, plc } = station;
  const result = reloadConfig(running, file);
  if (!result.ok) {
    const problems = result.problems.map(formatProblem);
    return keepOld(gateway, problems, running, log);
  }
  const note = describeChange(running, result.config);
  try {
    const takeNotify = notify.prepare(result.config);
    const takePlc = plc.prepare(result.config);
    const takeHttp = station.prepareHttp(result.config);
    await gateway.reload(
      result.config,
      result.plan,
      note === '' ? 'configuration read again: no change' : note,
    );
    await takeHttp(result.plan);
    await takeNotify();
    await takePlc();
  } catch (error) {
    return keepOld(gateway, [error instanceof Error ? error.message : String(error)], running, log);
  }
  log.info({ changes: result.changes.length, revision: result.plan.revision }, 'configuration read again');
  for (const change of result.changes) {
    if (change.needsRestart) log.warn({ path: change.path }, 'this change takes effect at the next start');
  }
  return result.config;
}

async function keepOld(
  gateway: Gateway,
  problems: readonly string[],
  running: Config,
  log: Logger,
): Promise<Config> {
  const text = 'running configuration differs from file';
  log.error({ problems }, text);
  try {
    await gateway.note(`${text}: ${problems.join('; ')}`);
  } catch (error) {
    log.error({ err: error }, 'the journal could not be written');
  }
  return running;
}
