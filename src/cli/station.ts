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
import { type PlcWishes, StationPlc } from './plc-desk.js';
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
  const charts = openChartsReader(dataDir);
  const notify = await openDesk(wishes, gateway, [reader, advice, charts]);
  const desk = new StationDesk({
    ...{ config, dataDir, gateway, reader },
    compareFile: (inForce) => reader.compareFile(inForce),
    now: () => Date.now(),
  });
  const rehearsals = openRehearsals(
    dataDir,
    () => gateway.plan(),
    () => Date.now(),
  );
  const plc = await openPlc({ config, gateway, reader, dataDir, version, log }, async () => {
    rehearsals.close();
    await notify.stop();
    await Promise.all([reader.close(), advice.close()]);
    await gateway.stop();
  });
  const deps: ApiDeps = {
    version,
    timeZone: config.timeZone,
    plan: () => gateway.plan(),
    reader,
    advice,
    charts,
    floodSince: () => gateway.figures().floodSince,
    rehearsals,
    notify,
    station: desk,
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
    metrics: () => [...gateway.metrics(), ...makeNotifyMetrics(notify.status()), ...plc.metrics()],
    now: () => Date.now(),
    logFault: (error, requestId) => log.error({ err: error, requestId }, 'a request failed'),
  };
  try {
    const server = await startServer(deps, http.host, http.port);
    return {
      gateway,
      notify,
      plc,
      desk,
      mqtt: `mqtt://${formatEndpoint({ host: mqtt.host, port: gateway.mqttPort })}`,
      http: `http://${formatEndpoint({ host: http.host, port: server.port })}`,
      stop: async () => {
        await server.close();
        rehearsals.close();
        await plc.stop();
        desk.close();
        await notify.stop();
        await Promise.all([reader.close(), advice.close(), charts.close()]);
        await gateway.stop();
      },
    };
  } catch (error) {
    rehearsals.close();
    await plc.stop();
    desk.close();
    await notify.stop();
    await Promise.all([reader.close(), advice.close(), charts.close()]);
    await gateway.stop();
    throw explainAddress(error, 'HTTP', http);
  }
}

/** Rejects when a secret of it cannot be had; nothing is left running then. */
async function openDesk(
  { config, dataDir, log }: StationWishes,
  gateway: Gateway,
  readers: readonly { close(): Promise<void> }[],
): Promise<StationNotifyDesk> {
  try {
    return new StationNotifyDesk({ config, gateway, dataDir, now: () => Date.now(), log });
  } catch (error) {
    await Promise.all(readers.map((reader) => reader.close()));
    await gateway.stop();
    throw error;
  }
}

/** Rejects when a password cannot be had or kept addresses cannot be read; `end` leaves nothing running then. */
async function openPlc(wishes: PlcWishes, end: () => Promise<void>): Promise<StationPlc> {
  try {
    return new StationPlc(wishes);
  } catch (error) {
    await end();
    throw error;
  }
}
