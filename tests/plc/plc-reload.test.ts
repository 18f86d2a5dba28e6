/** What a reload of the configuration does to the servers for PLC and HMI: as little as it can. Their processes are left out. */
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { StationPlc } from '../../src/cli/plc-desk.js';
import { parseConfig } from '../../src/config/parse.js';
import type { HostStatus, HostWishes } from '../../src/plc/server-host.js';

interface Opened {
  readonly wishes: HostWishes<unknown>;
  isStopped: boolean;
}
const opened = vi.hoisted(() => [] as Opened[]);
vi.mock('../../src/plc/server-host.js', () => ({
  ServerHost: class {
    readonly #own: Opened;
    constructor(wishes: HostWishes<unknown>) {
      this.#own = { wishes, isStopped: false };
      opened.push(this.#own);
    }
    status(): Partial<HostStatus> {
      return { state: this.#own.isStopped ? 'stopped' : 'listening' };
    }
    stop(): Promise<void> {
      this.#own.isStopped = true;
      return Promise.resolve();
    }
  },
}));

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-reload-'));
  opened.length = 0;
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

interface Wanted {
  readonly address?: string;
  /** null: no registers */
  readonly modbus?: string | null;
  readonly motors?: string;
  readonly memoryMbMax?: number;
}

function parse(wanted: Wanted = {}) {
  const { address = 'shift@works.test', modbus = '{}', motors = 'pump-1', memoryMbMax = 512 } = wanted;
  const each = motors.split(' ').map((motor) => `  ${motor}: { positions: { de: {} } }\n`);
  const result = parseConfig(
    `site: works
${modbus === null ? '' : `modbus: ${modbus}\n`}opcua: { anonymous: true, memoryMbMax: ${memoryMbMax} }
notify:
  mail: { host: mail.works.test, from: gateway@works.test }
  routes: { day: { email: ["${address}"] } }
motors:
${each.join('')}`,
    'plant.yaml',
  );
  if (!result.ok) throw new Error(JSON.stringify(result.problems));
  return result;
}
type Parsed = ReturnType<typeof parse>;

function openDesk(first: Parsed): { desk: StationPlc; reload: (next: Parsed) => Promise<void> } {
  let { plan } = first;
  const desk = new StationPlc({
    config: first.config,
    gateway: {
      plan: () => plan,
      ready: () => ({ ok: true, reasons: [] }),
      figures: () => ({ clockOffsetMs: 0 }),
      subscribeLive: () => () => undefined,
    } as never,
    reader: { drives: () => [], alarms: () => [], sensors: () => [] } as never,
    ...{ dataDir: folder, version: '0.0.0' },
    log: { info: () => undefined, warn: () => undefined, error: () => undefined },
  });
  return {
    desk,
    reload: async (next) => {
      const take = desk.prepare(next.config);
      ({ plan } = next);
      await take();
    },
  };
}

it('another address of an e-mail cuts nobody off, and the servers tell the new revision', async () => {
  const [first, second] = [parse(), parse({ address: 'maintenance@works.test' })];
  expect(first.plan.revision).not.toBe(second.plan.revision);
  const { reload } = openDesk(first);
  expect(opened.map(({ wishes }) => wishes.revision())).toEqual([first.plan.revision, first.plan.revision]);
  await reload(second);
  expect(opened.map(({ isStopped }) => isStopped)).toEqual([false, false]);
  expect(opened.map(({ wishes }) => wishes.revision())).toEqual([second.plan.revision, second.plan.revision]);
});

it('what a server is made of begins it anew, and the other one goes on', async () => {
  const { desk, reload } = openDesk(parse());
  const stopped = (): [string, boolean][] => opened.map(({ wishes, isStopped }) => [wishes.name, isStopped]);
  await reload(parse({ modbus: '{ clientsMax: 7 }' }));
  expect(stopped()).toEqual([
    ['Modbus TCP', true],
    ['OPC UA', false],
    ['Modbus TCP', false],
  ]);
  await reload(parse({ modbus: '{ clientsMax: 7 }', memoryMbMax: 600 }));
  expect(stopped().slice(1)).toEqual([
    ['OPC UA', true],
    ['Modbus TCP', false],
    ['OPC UA', false],
  ]);
  await reload(parse({ modbus: '{ clientsMax: 7 }', memoryMbMax: 600, motors: 'pump-1 pump-2' }));
  expect(stopped().filter(([, isStopped]) => !isStopped)).toHaveLength(2);
  expect(opened).toHaveLength(6);
  expect([...desk.status().values()].map(({ state }) => state)).toEqual(['listening', 'listening']);
});

it('a reload that is not gone through with leaves the kept register addresses as they are', async () => {
  const file = join(folder, 'modbus-slots.json');
  const read = (): unknown => (JSON.parse(readFileSync(file, 'utf8')) as { slots: unknown }).slots;
  const { desk, reload } = openDesk(parse());
  expect(read()).toEqual({ 'pump-1': 1 });
  const next = parse({ modbus: '{ slots: { pump-1: 40 } }' });
  desk.prepare(next.config);
  expect(read()).toEqual({ 'pump-1': 1 });
  await reload(next);
  expect(read()).toEqual({ 'pump-1': 40 });
});

it('nothing is kept where a first reload with registers is not gone through with', () => {
  const without = parse({ modbus: null });
  const { desk } = openDesk(without);
  desk.prepare(parse().config);
  expect(existsSync(join(folder, 'modbus-slots.json'))).toBe(false);
});
