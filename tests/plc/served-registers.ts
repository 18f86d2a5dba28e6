/** The process of the Modbus server, started as the gateway starts it, with a test in the gateway's place. */
import { fork, type ChildProcess } from 'node:child_process';
import type { ModbusSettings } from '../../src/plc/modbus-settings.js';
import type { News } from '../../src/plc/news.js';
import type { FromServer } from '../../src/plc/server-protocol.js';
import { builtFile } from '../support/repository.js';
import { newsOf, SLOTS, smallPlant } from './small-plant.js';

export interface Served {
  readonly port: number;
  readonly child: ChildProcess;
  /** resolves when it is taken */
  beat(part?: Partial<News>, isReady?: boolean): Promise<void>;
  stop(): Promise<void>;
}

export async function serveRegisters(change: Partial<ModbusSettings> = {}): Promise<Served> {
  const child = fork(builtFile('src/plc/modbus-process.js'), [], { execArgv: [] });
  const heard: FromServer[] = [];
  const until = <K extends FromServer['kind']>(kind: K): Promise<Extract<FromServer, { kind: K }>> =>
    new Promise((resolve, reject) => {
      const timer = setTimeout(() => reject(new Error(`no "${kind}": ${JSON.stringify(heard)}`)), 20_000);
      const hear = (message: unknown): void => {
        const one = message as FromServer;
        heard.push(one);
        if (one.kind !== kind) return;
        child.off('message', hear);
        clearTimeout(timer);
        resolve(one as Extract<FromServer, { kind: K }>);
      };
      child.on('message', hear);
    });
  const settings: ModbusSettings = {
    ...{ host: '127.0.0.1', port: 0, unitId: 1, wordOrder: 'ABCD', positions: ['de', 'nde'] },
    ...{ slots: [...SLOTS], clientsMax: 100, idleMs: 60_000, plant: smallPlant(), ...change },
  };
  const listening = until('listening');
  child.send({ kind: 'start', settings });
  const { port } = await listening;
  let id = 0;
  return {
    ...{ port, child },
    beat: async (part = {}, isReady = true) => {
      const taken = until('taken');
      child.send({ kind: 'beat', id: ++id, isReady, isLoaded: true, news: newsOf(part) });
      await taken;
    },
    stop: () =>
      new Promise((resolve) => {
        child.once('exit', () => resolve());
        if (child.connected) child.disconnect();
        else child.kill('SIGKILL');
      }),
  };
}
