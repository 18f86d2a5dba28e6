/** Gateway and HTTP interface together, as one thing that starts and stops. */
import type { Logger } from 'pino';
import type { ApiDeps } from '../api/deps.js';
import { startServer } from '../api/server.js';
import type { Config } from '../config/config.js';
import { formatEndpoint, type Endpoint } from '../config/endpoint.js';
import type { Plan } from '../core/plan.js';
import { type Gateway, startGateway } from '../gateway.js';
import { dropNumberTable } from '../intake/number-table.js';
import { makeNotifyMetrics } from '../notify/notify-metrics.js';
import { explainAddress } from './listen-refusal.js';
import { StationNotifyDesk } from './notify-desk.js';
import { OpenParts } from './open-parts.js';
import { StationPlc } from './plc-desk.js';
import { StationDesk } from './station-desk.js';
import { openAdviceReader } from './query/advice-reader.js';
import { openChartsReader } from './query/charts-reader.js';
import { openApiReader } from './query/api-reader.js';
import { openRehearsals } from './rehearsal-room.js';
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
  readonly notify: StationNotifyDesk;
  readonly plc: StationPlc;
  readonly desk: StationDesk;
  /** `mqtt://HOST:PORT` */
  readonly mqtt: string;
  /** `http://HOST:PORT` */
  readonly http: string;
  stop(): Promise<void>;
}

/** Rejects with what to do when an address cannot be had; nothing is left running then. */
export async function startStation(wishes: StationWishes): Promise<Station> {
  const { config, plan, dataDir, mqtt, log } = wishes;
  const version = readVersion();
  dropNumberTable();
  const gateway = await startGateway({ config, plan, dataDir, mqtt, version, log }).catch(
    (error: unknown) => {
      throw explainAddress(error, 'MQTT', mqtt);
    },
  );
  const open = new OpenParts();
  open.add(gateway, () => gateway.stop());
  try {
    return await openStation(wishes, gateway, version, open);
  } catch (error) {
    await open.close();
    throw error;
  }
}

async function openStation(
  wishes: StationWishes,
  gateway: Gateway,
  version: string,
  open: OpenParts,
): Promise<Station> {
  const { config, dataDir, mqtt, http, log } = wishes;
  const now = (): number => Date.now();
  const reader = open.add(openApiReader(dataDir), (part) => part.close());
  const advice = open.add(openAdviceReader(dataDir), (part) => part.close());
  const charts = open.add(openChartsReader(dataDir), (part) => part.close());
  const notify = open.add(new StationNotifyDesk({ config, gateway, dataDir, now, log }), (part) =>
    part.stop(),
  );
  const desk = open.add(
    new StationDesk({
      ...{ config, dataDir, gateway, reader, now },
      compareFile: (inForce) => reader.compareFile(inForce),
    }),
    (part) => part.close(),
  );
  const plc = open.add(new StationPlc({ config, gateway, reader, dataDir, version, log }), (part) =>
    part.stop(),
  );
  const rehearsals = open.add(
    openRehearsals(dataDir, config.file, () => gateway.plan(), now),
    (part) => part.close(),
  );
  const deps: ApiDeps = {
    ...forwardGateway(gateway),
    ...{ version, timeZone: config.timeZone, now, reader, advice, charts, rehearsals, notify, station: desk },
    metrics: () => [...gateway.metrics(), ...makeNotifyMetrics(notify.status()), ...plc.metrics()],
    logFault: (error, requestId) => log.error({ err: error, requestId }, 'a request failed'),
  };
  const server = await startServer(deps, http.host, http.port).catch((error: unknown) => {
    throw explainAddress(error, 'HTTP', http);
  });
  open.add(server, (part) => part.close());
  return {
    ...{ gateway, notify, plc, desk },
    mqtt: `mqtt://${formatEndpoint({ host: mqtt.host, port: gateway.mqttPort })}`,
    http: `http://${formatEndpoint({ host: http.host, port: server.port })}`,
    stop: () => open.close(),
  };
}

/** What the HTTP interface asks the gateway itself. */
function forwardGateway(
  gateway: Gateway,
): Pick<
  ApiDeps,
  | 'plan'
  | 'floodSince'
  | 'commissioning'
  | 'subscribeLive'
  | 'operate'
  | 'ownAlarms'
  | 'maintain'
  | 'backup'
  | 'unreadyReasons'
> {
  return {
    plan: () => gateway.plan(),
    floodSince: () => gateway.figures().floodSince,
    commissioning: {
      keep: (place, json, entry) =>
        gateway.keep({
          ...{ key: `commissioning/${place}`, json, notes: [] },
          entries: entry === null ? [] : [{ subject: entry.motor, who: entry.who, text: entry.text }],
        }),
    },
    subscribeLive: (listener) => gateway.subscribeLive(listener),
    operate: (wish) => gateway.operate(wish),
    ownAlarms: () => gateway.ownAlarms(),
    maintain: (wish) => gateway.maintain(wish),
    backup: (path) => gateway.backup(path),
    unreadyReasons: () => gateway.ready().reasons,
  };
}
