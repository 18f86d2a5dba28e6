/** Gateway and HTTP interface together, as one thing that starts and stops. */
import type { Logger } from 'pino';
import type { ApiDeps } from '../api/deps.js';
import { startServer } from '../api/server.js';
import type { Config } from '../config/config.js';
import { formatEndpoint, type Endpoint } from '../config/endpoint.js';
import type { Plan } from '../core/plan.js';
import { type Gateway, startGateway } from '../gateway.js';
import { dropNumberTable } from '../intake/number-table.js';
import { explainAddress } from './listen-refusal.js';
import { openAdviceReader } from './query/advice-reader.js';
import { openApiReader } from './query/api-reader.js';
import { readVersion } from './version.js';

export interface StationWishes {
  readonly config: Config;
  readonly plan: Plan;
  readonly dataDir: string;
  readonly mqtt: Endpoint;
  readonly http: Endpoint;
  readonly log: Logger;
}

export interface Station {
  readonly gateway: Gateway;
  /** `mqtt://HOST:PORT` */
  readonly mqtt: string;
  /** `http://HOST:PORT` */
  readonly http: string;
  stop(): Promise<void>;
}

/** Rejects with what to do when an address cannot be had; nothing is left running then. */
export async function startStation(wishes: StationWishes): Promise<Station> {
  const { config, plan, dataDir, mqtt, http, log } = wishes;
  const version = readVersion();
  dropNumberTable();
  const gateway = await startGateway({ config, plan, dataDir, mqtt, version, log }).catch(
    (error: unknown) => {
      throw explainAddress(error, 'MQTT', mqtt);
    },
  );
  const reader = openApiReader(dataDir);
  const advice = openAdviceReader(dataDir);
  const deps: ApiDeps = {
    version,
    timeZone: config.timeZone,
    plan: () => gateway.plan(),
    reader,
    advice,
    floodSince: () => gateway.figures().floodSince,
    subscribeLive: (listener) => gateway.subscribeLive(listener),
    operate: (wish) => gateway.operate(wish),
    ownAlarms: () => gateway.ownAlarms(),
    maintain: (wish) => gateway.maintain(wish),
    backup: (path) => gateway.backup(path),
    unreadyReasons: () => gateway.ready().reasons,
    metrics: () => gateway.metrics(),
    now: () => Date.now(),
    logFault: (error, requestId) => log.error({ err: error, requestId }, 'a request failed'),
  };
  try {
    const server = await startServer(deps, http.host, http.port);
    return {
      gateway,
      mqtt: `mqtt://${formatEndpoint({ host: mqtt.host, port: gateway.mqttPort })}`,
      http: `http://${formatEndpoint({ host: http.host, port: server.port })}`,
      stop: async () => {
        await server.close();
        await Promise.all([reader.close(), advice.close()]);
        await gateway.stop();
      },
    };
  } catch (error) {
    await Promise.all([reader.close(), advice.close()]);
    await gateway.stop();
    throw explainAddress(error, 'HTTP', http);
  }
}
