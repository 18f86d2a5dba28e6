/** Entries through the engine that runs, and into a store that no gateway runs on: one of the two at a time. */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { ActionRequest, FindingRequest } from '../../shared/maintenance.js';
import type { MaintenanceCall } from '../../src/engine/maintenance-calls.js';
import { enterOffline } from '../../src/engine/offline.js';
import type { EngineSettings } from '../../src/engine/protocol.js';
import { prepareFolder, readConfigFile, type Rig, startRig, waitFor } from './gateway-rig.js';

const DAY_MS = 86_400_000;
const regreased: ActionRequest = { action: 'regreased', end: 'de', bearing: null, by: 'J. Field', note: '' };
const fluted: FindingRequest = {
  ...{ end: 'nde', removed: true, by: 'J. Field', note: '' },
  ...{ modes: [], signs: ['fluting'], lubricant: [] },
};
const enter = (change: Partial<ActionRequest> = {}, motor = 'pump-1'): MaintenanceCall => ({
  ...{ do: 'enter-action', motor },
  entry: { ...regreased, ...change },
});
const everything = { motor: null, from: null, to: null, limit: 100, cursor: null };

let folder: string;
let rig: Rig | null;
beforeEach(() => {
  folder = prepareFolder({}).folder;
  rig = null;
});
afterEach(async () => {
  await rig?.stop();
  rmSync(folder, { recursive: true, force: true });
});

function settings(): EngineSettings {
  const { config, plan } = readConfigFile(join(folder, 'site.yaml'));
  const { minCommitIntervalMs, walBytesMax, retention } = config.storage;
  return { dataDir: join(folder, 'data'), plan, minCommitIntervalMs, storage: { walBytesMax, retention } };
}

describe('a running gateway', () => {
  it('takes entries, backdated ones too, tells them in the journal, and numbers on after a restart', async () => {
    rig = await startRig({ folder });
    const told: string[] = [];
    const client = await rig.connect();
    client.on('message', (_topic, payload) => told.push(payload.toString()));
    await client.subscribeAsync('workshop/out/journal');
    const at = Date.now() - 400 * DAY_MS;
    expect(await rig.gateway.maintain(enter({ at }))).toMatchObject({
      ok: true,
      row: { id: 1, at, action: 'regreased', breaks: 'motor', withdrawn: null },
    });
    const journal = await waitFor('the journal is told', () =>
      told.find((text) => text.includes('regreased')),
    );
    expect(JSON.parse(journal)).toMatchObject({ subject: 'pump-1', who: 'J. Field', kind: 'operator' });
    const found = await rig.gateway.maintain({ do: 'enter-finding', motor: 'pump-1', entry: fluted });
    expect(found).toMatchObject({ ok: true, row: { id: 2, signs: ['fluting'], removed: true } });
    await rig.stop();
    rig = await startRig({ folder });
    const now = await rig.gateway.maintain(enter());
    expect(now).toMatchObject({ ok: true, row: { id: 3 } });
    expect(Math.abs((now.ok ? now.row.at : 0) - Date.now())).toBeLessThan(60_000);
  });

  it.each([
    ['unknown-motor', enter({}, 'pump-9')],
    ['unknown-place', enter({ end: 'roof' })],
    ['in-the-future', enter({ at: Date.now() + DAY_MS })],
    ['no-such-entry', { do: 'withdraw', of: 'action', motor: 'pump-1', id: 5, by: 'K', note: 'why' }],
  ] as const)('refuses what is %s, and stores nothing', async (reason, call) => {
    rig = await startRig({ folder });
    expect(await rig.gateway.maintain(call)).toEqual({ ok: false, reason });
    const reader = rig.reader();
    expect(reader.actions(everything).items).toEqual([]);
    reader.close();
  });

  it('withdraws once', async () => {
    rig = await startRig({ folder });
    await rig.gateway.maintain(enter());
    const call = { do: 'withdraw', of: 'action', motor: 'pump-1', id: 1, by: 'K', note: 'why' } as const;
    expect(await rig.gateway.maintain(call)).toMatchObject({ ok: true, row: { withdrawn: { by: 'K' } } });
    expect(await rig.gateway.maintain(call)).toEqual({ ok: false, reason: 'withdrawn-already' });
  });

  it('keeps everybody else from writing beside it', async () => {
    rig = await startRig({ folder });
    expect(() => enterOffline(settings(), enter())).toThrow(/another gateway writes/);
  });
});

describe('a store that no gateway runs on', () => {
  it('takes the same entries with the same answers, and the gateway goes on from them', async () => {
    expect(enterOffline(settings(), enter())).toMatchObject({ ok: true, row: { id: 1 } });
    expect(enterOffline(settings(), enter({ end: 'roof' }))).toEqual({ ok: false, reason: 'unknown-place' });
    expect(enterOffline(settings(), enter({ end: null }))).toMatchObject({ ok: true, row: { id: 2 } });
    rig = await startRig({ folder });
    expect(await rig.gateway.maintain(enter())).toMatchObject({ ok: true, row: { id: 3 } });
    const reader = rig.reader();
    const texts = reader
      .journal({ from: null, to: null, limit: 100, cursor: null })
      .items.map(({ to }) => to);
    expect(texts.filter((to) => to === 'regreased')).toHaveLength(3);
    reader.close();
  });
});
