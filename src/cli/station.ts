/** Gateway and HTTP interface together, as one thing that starts and stops. */
import type { Logger } from 'pino';
import { startServer } from '../api/server.js';
import type { Config } from '../config/config.js';
import { formatEndpoint, type Endpoint } from '../config/endpoint.js';
import type { Plan } from '../core/plan.js';
import { type Gateway, startGateway } from '../gateway.js';
import { dropNumberTable } from '../intake/number-table.js';
import { readAccess, readUsers } from './http-access.js';
import { explainAddress } from './listen-refusal.js';
import { StationForwardDesk } from './forward-desk.js';
import { StationNotifyDesk } from './notify-desk.js';
import { makeDeps } from './station-deps.js';
import { StationDesk } from './station-desk.js';
import { StationPlc } from './plc-desk.js';
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
  readonly desk: StationDesk;
  readonly plc: StationPlc;
  /** Throws when passwords of HTTP users cannot be had; nothing is changed before the returned function is called. */
  prepareUsers(config: Config): () => void;
  /** `mqtt://HOST:PORT` */
  readonly mqtt: string;
  /** `http://HOST:PORT`, or `https:` */
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
  const open = new OpenParts();
  open.add(() => gateway.stop());
  try {
    const rooms = openRooms(wishes, gateway, version, open);
    const deps = makeDeps({
      ...rooms,
      ...{ version, timeZone: config.timeZone, gateway, log },
      metrics: () => [...rooms.forward.metrics(), ...rooms.plc.metrics()],
    });
    const access = readAccess(config, log);
    const server = await startServer(deps, http.host, http.port, access).catch((error: unknown) => {
      throw explainAddress(error, 'HTTP', http);
    });
    open.add(() => server.close());
    const { notify, desk, plc } = rooms;
    return {
      ...{ gateway, notify, desk, plc },
      prepareUsers: (next) => {
        const users = readUsers(next, http, log);
        return () => server.desk.changeUsers(users);
      },
      mqtt: `mqtt://${formatEndpoint({ host: mqtt.host, port: gateway.mqttPort })}`,
      http: `${access.tls === null ? 'http' : 'https'}://${formatEndpoint({ host: http.host, port: server.port })}`,
      stop: () => open.close(),
    };
  } catch (error) {
    await open.close();
    throw error;
  }
}

/** What was opened, to be closed in the opposite order: whoever asks somebody else goes first. */
class OpenParts {
  readonly #closers: (() => Promise<void> | void)[] = [];

  add(close: () => Promise<void> | void): void {
    this.#closers.push(close);
  }

  async close(): Promise<void> {
    for (const close of this.#closers.splice(0).reverse()) await close();
  }
}

/** Throws when a secret of theirs cannot be had, or kept addresses cannot be read. */
function openRooms(wishes: StationWishes, gateway: Gateway, version: string, open: OpenParts) {
  const { config, plan, dataDir, log } = wishes;
  const now = (): number => gateway.now();
  const reader = openApiReader(dataDir);
  const advice = openAdviceReader(dataDir);
  const charts = openChartsReader(dataDir);
  for (const each of [reader, advice, charts]) open.add(() => each.close());
  const notify = new StationNotifyDesk({ config, gateway, dataDir, now, log });
  open.add(() => notify.stop());
  const forward = new StationForwardDesk({ config, plan, gateway, dataDir, now, log });
  open.add(() => forward.stop());
  const plc = new StationPlc({ config, gateway, reader, dataDir, version, log });
  open.add(() => plc.stop());
  const compareFile = (inForce: Config) => reader.compareFile(inForce);
  const desk = new StationDesk({ config, dataDir, gateway, reader, forward, compareFile, now });
  open.add(() => desk.close());
  const rehearsals = openRehearsals(dataDir, config.file, () => gateway.plan(), now);
  open.add(() => rehearsals.close());
  return { reader, advice, charts, notify, forward, plc, desk, rehearsals };
}
