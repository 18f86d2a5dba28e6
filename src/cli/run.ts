/** `tallypost run`: the gateway, until a signal ends it. */
import { mkdirSync } from 'node:fs';
import type { Logger } from 'pino';
import { formatEndpoint } from '../config/endpoint.js';
import { formatProblem } from '../config/problem.js';
import type { RunningGateway } from '../gateway.js';
import { type Command, CommandFailure, Exit, type Terminal, textOf } from './command.js';
import {
  CONFIG_OPTION,
  DATA_OPTION,
  endpointOf,
  HTTP_OPTION,
  MQTT_OPTION,
  readConfig,
} from './config-argument.js';
import { findGateway, removeGatewayFile, writeGatewayFile } from './gateway-file.js';

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
    const mqtt = endpointOf(args, 'mqtt') ?? read.config.mqtt.listen;
    const http = endpointOf(args, 'http') ?? read.config.http.listen;
    const dataDir = textOf(args, 'data');
    refuseSecond(dataDir);
    mkdirSync(dataDir, { recursive: true });
    const { openLog } = await import('./log.js');
    const log = openLog(textOf(args, 'log', 'info'), terminal.isErrTty);
    const { startGateway } = await import('../gateway.js');
    const gateway = await startGateway({ ...read, dataDir, mqtt, http, log });
    const addresses = {
      mqtt: `mqtt://${formatEndpoint({ ...mqtt, port: gateway.mqttPort })}`,
      http: `http://${formatEndpoint({ ...http, port: gateway.httpPort })}`,
    };
    writeGatewayFile(dataDir, { pid: process.pid, ...addresses, startedAt: new Date().toISOString() });
    tellStart(terminal, log, addresses, read.config.mqtt.users === null);
    try {
      return await superviseGateway(gateway, textOf(args, 'config'), log);
    } finally {
      removeGatewayFile(dataDir);
    }
  },
};
