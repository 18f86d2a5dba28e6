/** The OPC UA server over the small plant, with clients that are closed after each test. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect } from 'vitest';
import type { OpcuaSettings } from '../../src/plc/opcua-settings.js';
import type { HistoryWish, OperateWish } from '../../src/plc/wishes.js';
import { sleep } from '../support/child.js';
import { connectHmi, type Hmi, type HmiWishes } from './opcua-client.js';
import { serve, type Served } from './served-process.js';
import { smallPlant } from './small-plant.js';

export const SHIFT = { user: 'shift', password: 'a long enough one' };
export const GUEST = { user: 'guest', password: 'another one' };
export const STALE_MS = 4_000;

export interface OpcuaRig {
  readonly served: Served;
  readonly folder: string;
  readonly open: Hmi[];
  readonly connect: (wishes?: Partial<HmiWishes>) => Promise<Hmi>;
  /** the gateway refuses acts with this word until the test is over */
  refuse(word: string): void;
  /** closes what a test opened; fails when the server had something to complain about */
  rest(): Promise<void>;
  stop(): Promise<void>;
}

function listMinutes({ from, to, limit }: HistoryWish): unknown[] {
  const rows = [];
  for (let start = Math.ceil(from / 60_000) * 60_000; start < to && rows.length < limit; start += 60_000) {
    const ms = start % 180_000 === 0 ? 0 : 60_000;
    rows.push({ start, pulses: (start / 60_000) % 100, ms, isUncertain: false });
  }
  return rows;
}

export async function serveOpcua(): Promise<OpcuaRig> {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-opcua-'));
  const plant = smallPlant();
  const open: Hmi[] = [];
  let refusal: string | null = null;
  const settings: OpcuaSettings = {
    ...{ host: '127.0.0.1', port: 0, security: ['sign-encrypt', 'none'], anonymous: true },
    users: [
      { name: SHIFT.user, password: SHIFT.password, role: 'operator' },
      { name: GUEST.user, password: GUEST.password, role: 'viewer' },
    ],
    ...{ sessionsMax: 5, idleMs: 60_000, rangePerMin: 600, shelfMaxMs: 86_400_000 },
    ...{ dataDir: folder, version: '0.0.0' },
    plant: {
      ...plant,
      sensors: plant.sensors.map((sensor) => ({ ...sensor, staleMs: STALE_MS, goodMs: STALE_MS / 2 })),
    },
  };
  const served = await serve('src/plc/opcua-process.js', settings, (wish) => {
    const asked = wish as OperateWish | HistoryWish;
    return asked.do === 'operate' ? { refusal, says: '' } : listMinutes(asked);
  });
  const rest = async (): Promise<void> => {
    refusal = null;
    for (const hmi of open.splice(0)) await hmi.close();
    expect(served.said).toEqual([]);
  };
  return {
    ...{ served, folder, open, rest },
    connect: async (wishes = {}) => {
      const hmi = await connectHmi({ port: served.port, ...wishes });
      open.push(hmi);
      return hmi;
    },
    refuse: (word) => (refusal = word),
    stop: async () => {
      await served.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

export async function untilTrue<T>(
  holds: () => T | Promise<T>,
  patienceMs = 10_000,
): Promise<NonNullable<T>> {
  const end = Date.now() + patienceMs;
  for (;;) {
    const value = await holds();
    if (value !== undefined && value !== null && value !== false) return value;
    if (Date.now() > end) throw new Error(`after ${patienceMs} ms still not: ${holds.toString()}`);
    await sleep(100);
  }
}
