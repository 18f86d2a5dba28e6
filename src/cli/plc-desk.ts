/** The servers for PLC and HMI beside the gateway: fed from its events, begun anew when their part of the configuration changes. */
import type { Metric } from '../api/deps.js';
import type { PlcRow } from '../api/station-reader.js';
import type { Config } from '../config/config.js';
import { REFUSALS, type AlarmRefusal } from '../core/alarm-refusals.js';
import { Class } from '../core/words.js';
import { postEvent, toFirstNews, toModbusSettings, toOpcuaSettings } from '../gateway-plc.js';
import type { Gateway } from '../gateway.js';
import { keepSlots, readKeptSlots } from '../plc/kept-slots.js';
import { findMissingPackage, type Resolve } from '../plc/opcua-package.js';
import { NewsBoard } from '../plc/news-board.js';
import { ServerHost, type HostLog, type HostStatus } from '../plc/server-host.js';
import { assignSlots } from '../plc/slots.js';
import type { PlcReader } from './query/plc-reader.js';
import {
  readWish,
  type HistoryRow,
  type HistoryWish,
  type OperateAnswer,
  type OperateWish,
} from '../plc/wishes.js';

export interface PlcWishes {
  readonly config: Config;
  readonly gateway: Pick<Gateway, 'figures' | 'now' | 'operate' | 'plan' | 'ready' | 'subscribeLive'>;
  readonly reader: PlcReader;
  readonly dataDir: string;
  readonly version: string;
  readonly log: HostLog;
  /** finds packages; for tests */
  readonly resolve?: Resolve;
}

type ServerName = 'modbus' | 'opcua';
const PROGRAMS = {
  modbus: new URL('../plc/modbus-process.js', import.meta.url),
  opcua: new URL('../plc/opcua-process.js', import.meta.url),
} as const;
const MISSING = 'a package that it needs is not installed: the log says which';
const NOTHING = { port: null, clients: 0, requests: null, refused: null, restarts: 0 } as const;
const NAMES = { modbus: 'Modbus TCP', opcua: 'OPC UA' } as const;
/** Registers need little; the bound is far above it, so that only a fault reaches it. */
const MODBUS_MEMORY_MB = 128;
const LOAD_AGAIN_MS = 5_000;

type Wanted = ReadonlyMap<
  ServerName,
  { readonly key: string; readonly settings: unknown; readonly memoryMbMax: number }
>;

interface Running {
  /** settings as text: a reload that changes nothing of them leaves the server, and all that are connected, alone */
  readonly key: string;
  readonly host: ServerHost<unknown>;
}

export class StationPlc {
  readonly #wishes: PlcWishes;
  readonly #board = new NewsBoard();
  readonly #running = new Map<ServerName, Running>();
  #unsubscribe: (() => void) | null = null;
  #isLoaded = false;
  #isStopped = false;
  #loading: NodeJS.Timeout | null = null;

  /** Throws when a password cannot be had, or when the kept register addresses cannot be read. */
  constructor(wishes: PlcWishes) {
    this.#wishes = wishes;
    const { wanted, keep } = this.#settle(wishes.config);
    keep();
    this.#take(wanted);
  }

  /** Throws as the constructor does; nothing is changed before the returned function is called. */
  prepare(config: Config): () => Promise<void> {
    // passwords and kept addresses are read before anything is taken over, the plan after
    this.#settle(config);
    return async () => {
      const { wanted, keep } = this.#settle(config);
      keep();
      const ends = [...this.#running].filter(([name, { key }]) => wanted.get(name)?.key !== key);
      await Promise.all(
        ends.map(async ([name, { host }]) => {
          this.#running.delete(name);
          await host.stop();
        }),
      );
      this.#take(wanted);
    };
  }

  /** Each server that is configured, also one that cannot run. */
  rows(config: Pick<Config, 'modbus' | 'opcua'>): PlcRow[] {
    return (['modbus', 'opcua'] as const).flatMap((name): PlcRow[] => {
      if (config[name] === null) return [];
      const status = this.#running.get(name)?.host.status();
      if (status === undefined)
        return [{ server: NAMES[name], state: 'missing', ...NOTHING, fault: MISSING }];
      const { state, port, restarts, fault, figures } = status;
      const { clients = 0, requests = null, refused = null } = figures;
      return [{ server: NAMES[name], state, port, clients, requests, refused, restarts, fault }];
    });
  }

  status(): ReadonlyMap<ServerName, HostStatus> {
    return new Map([...this.#running].map(([name, { host }]) => [name, host.status()]));
  }

  metrics(): readonly Metric[] {
    const states = [...this.status()];
    if (states.length === 0) return [];
    const values = (value: (status: HostStatus) => number): Metric['values'] =>
      states.map(([server, status]) => ({ labels: { server }, value: value(status) }));
    const gauge = (name: string, help: string, value: (status: HostStatus) => number): Metric => ({
      ...{ name, help, type: 'gauge', values: values(value) },
    });
    return [
      gauge('plc_listening', '1 while the server for PLC or HMI listens.', ({ port }) =>
        Number(port !== null),
      ),
      gauge(
        'plc_clients',
        'Connections or sessions of PLC and HMI.',
        ({ figures }) => figures['clients'] ?? 0,
      ),
      {
        ...{ name: 'plc_restarts', help: 'Restarts of the server process.', type: 'counter' },
        values: values(({ restarts }) => restarts),
      },
    ];
  }

  async stop(): Promise<void> {
    this.#isStopped = true;
    this.#unsubscribe?.();
    if (this.#loading !== null) clearTimeout(this.#loading);
    await Promise.all([...this.#running.values()].map(({ host }) => host.stop()));
  }

  /** What is to run under this configuration. Changes nothing; `keep` writes down which addresses were given. */
  #settle(config: Config): { readonly wanted: Wanted; readonly keep: () => void } {
    const { gateway, dataDir, version, log, resolve } = this.#wishes;
    const plan = gateway.plan();
    const wanted = new Map<ServerName, { key: string; settings: unknown; memoryMbMax: number }>();
    const { modbus, opcua } = config;
    let keep = (): void => undefined;
    if (modbus !== null) {
      const given = modbus.slots === null ? null : new Map(Object.entries(modbus.slots));
      const { slots } = assignSlots(
        [...plan.motors.keys()],
        given,
        readKeptSlots(dataDir),
        modbus.positions.length,
      );
      keep = () => keepSlots(dataDir, slots, given !== null);
      const settings = toModbusSettings(plan, modbus, slots);
      wanted.set('modbus', { key: JSON.stringify(settings), settings, memoryMbMax: MODBUS_MEMORY_MB });
    }
    const missing = opcua === null ? null : findMissingPackage(resolve);
    // the gateway does its work without it; who configured it reads what to install
    if (missing !== null) log.error({}, missing);
    if (opcua !== null && missing === null) {
      const { settings, warnings } = toOpcuaSettings(config, plan, opcua, { dataDir, version });
      for (const warning of warnings) log.warn({}, warning);
      const { memoryMbMax } = opcua;
      wanted.set('opcua', { key: JSON.stringify([settings, memoryMbMax]), settings, memoryMbMax });
    }
    return { wanted, keep };
  }

  #take(wanted: Wanted): void {
    if (wanted.size > 0) this.#follow();
    const { gateway, log } = this.#wishes;
    for (const [name, { key, settings, memoryMbMax }] of wanted) {
      if (this.#running.has(name)) continue;
      const host = new ServerHost<unknown>({
        ...{ name: NAMES[name], program: PROGRAMS[name], settings, memoryMbMax, board: this.#board, log },
        isReady: () => gateway.ready().ok,
        isLoaded: () => this.#isLoaded,
        revision: () => gateway.plan().revision,
        clockOffsetMs: () => gateway.figures().clockOffsetMs,
        answer: (wish) => this.#answer(wish),
      });
      this.#running.set(name, { key, host });
    }
  }

  /** Listens from the first server on; costs nothing where there is none. */
  #follow(): void {
    if (this.#unsubscribe !== null) return;
    this.#unsubscribe = this.#wishes.gateway.subscribeLive((event) => postEvent(this.#board, event));
    void this.#load();
  }

  async #load(): Promise<void> {
    const { reader, log } = this.#wishes;
    try {
      const [drives, alarms, sensors] = await Promise.all([
        reader.drives(),
        reader.alarms(),
        reader.sensors(),
      ]);
      this.#board.takeFirst(toFirstNews(drives, alarms, sensors));
      this.#isLoaded = true;
    } catch (error) {
      if (this.#isStopped) return;
      log.warn({ err: error }, 'the store could not be read for PLC and HMI: tried again');
      this.#loading = setTimeout(() => void this.#load(), LOAD_AGAIN_MS).unref();
    }
  }

  #answer(value: unknown): Promise<unknown> {
    const wish = readWish(value);
    if (wish === null) return Promise.reject(new Error('the gateway does not know what is asked'));
    return wish.do === 'operate' ? this.#operate(wish) : this.#readHistory(wish);
  }

  async #operate({ alarm, act, forMs, once, who, note }: OperateWish): Promise<OperateAnswer> {
    const what =
      act === 'shelve' ? { do: act, until: this.#wishes.gateway.now() + forMs, once } : { do: act };
    const [answer] = await this.#wishes.gateway.operate({ alarms: [alarm], act: what, who, note });
    const refusal: AlarmRefusal | null = answer?.refusal ?? null;
    return { refusal, says: refusal === null ? '' : REFUSALS[refusal][0] };
  }

  async #readHistory({ sensor, period, from, to, limit }: HistoryWish): Promise<HistoryRow[]> {
    const page = await this.#wishes.reader.rollups({ sensor, period, from, to, limit, cursor: null });
    return page.items.map((row) => ({
      start: row.start,
      pulses: row.pulses[Class.running]!,
      ms: row.ms[Class.running]!,
      isUncertain: row.uncertainMs > 0,
    }));
  }
}
