/** Gateway and HTTP interface together, as one thing that starts and stops. */
import type { Logger } from 'pino';
import type { Metric } from '../api/deps.js';
import type { Config } from '../config/config.js';
import { formatEndpoint, type Endpoint } from '../config/endpoint.js';
import type { Plan } from '../core/plan.js';
import { type Gateway, startGateway } from '../gateway.js';
import { dropNumberTable } from '../intake/number-table.js';
import { readAccess, readUsers } from './http-access.js';
import { explainAddress } from './listen-refusal.js';
import { StationForwardDesk } from './forward-desk.js';
import { StationNotifyDesk } from './notify-desk.js';
import { StationPlc } from './plc-desk.js';
import { openPlcReader } from './query/plc-reader.js';
import { readVersion } from './version.js';
import { WebHost } from './web/host.js';
import { makeAnswers } from './web/main-answers.js';

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
  /**
   * Throws when passwords of HTTP users cannot be had; nothing is changed before the returned function is called. What that
   * returns resolves when the HTTP interface answers by this configuration.
   */
  prepareHttp(config: Config): (plan: Plan) => Promise<void>;
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
    const { notify, forward, plc } = openRooms(wishes, gateway, version, open);
    const { users, ...access } = readAccess(config, log);
    const startedAt = gateway.now();
    const web: WebHost = new WebHost({
      settings: {
        ...{ dataDir, version, startedAt, ...http, access, clockOffsetMs: 0 },
        inForce: { config, started: config, plan, users, since: startedAt },
      },
      answers: makeAnswers({
        ...{ gateway, notify, forward, plc },
        metrics: () => [...plc.metrics(), ...makeWebMetrics(web.figures())],
      }),
      log,
      subscribeLive: (listener) => gateway.subscribeLive(listener),
      followClock: (listener) => gateway.followClock(listener),
    });
    const port = await web.start().catch((error: unknown) => {
      throw explainAddress(error, 'HTTP', http);
    });
    open.add(() => web.stop());
    return {
      ...{ gateway, notify, plc },
      prepareHttp: (next) => {
        const users = readUsers(next, http, log);
        return (plan) => web.take({ config: next, started: config, plan, users, since: gateway.now() });
      },
      mqtt: `mqtt://${formatEndpoint({ host: mqtt.host, port: gateway.mqttPort })}`,
      http: `${access.tls === null ? 'http' : 'https'}://${formatEndpoint({ host: http.host, port })}`,
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
  const reader = openPlcReader(dataDir);
  open.add(() => reader.close());
  const notify = new StationNotifyDesk({ config, gateway, dataDir, now, log });
  open.add(() => notify.stop());
  const forward = new StationForwardDesk({ config, plan, gateway, dataDir, now, log });
  open.add(() => forward.stop());
  const plc = new StationPlc({ config, gateway, reader, dataDir, version, log });
  open.add(() => plc.stop());
  return { notify, forward, plc };
}

function makeWebMetrics({ restarts, leftOut }: ReturnType<WebHost['figures']>): Metric[] {
  return [
    {
      ...{ name: 'http_restarts', type: 'counter', help: 'Restarts of the thread of the HTTP interface.' },
      values: [{ value: restarts }],
    },
    {
      ...{ name: 'live_events_left_out', type: 'counter' },
      help: 'Live events that the HTTP interface was too busy for; whoever follows them was told to load anew.',
      values: [{ value: leftOut }],
    },
  ];
}
