import { existsSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import type { ClockSources } from '../../src/engine/clock.js';
import type { EngineStore } from '../../src/engine/engine-store.js';
import type { EngineSettings } from '../../src/engine/protocol.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import {
  prepareFolder,
  readConfigFile,
  READING_TOPIC,
  reading,
  startRig,
  waitFor,
  type Rig,
} from './gateway-rig.js';

const STATE = 'workshop/in/pump-1/drive/state';
let rig: Rig;
afterEach(() => rig.stop());

/** The real store, but a commit or an opening may be told to fail. */
function faultyStore(folder: string) {
  const { config, plan } = readConfigFile(join(folder, 'site.yaml'));
  const settings: EngineSettings = {
    dataDir: join(folder, 'data'),
    plan,
    minCommitIntervalMs: 0,
    storage: config.storage,
  };
  const faults = { commit: false, commits: 0 };
  const openStore = (): EngineStore => {
    const store = openEngineStore(settings);
    return {
      ...store,
      commit: () => {
        if (faults.commit)
          throw Object.assign(new Error('database or disk is full'), { code: 'SQLITE_FULL' });
        faults.commits += 1;
        store.commit();
      },
    };
  };
  return { faults, openStore };
}

function storedCounts(from: Rig): number[] {
  const store = from.reader();
  const rows = [...store.increments({ sensor: null, from: null, to: null })].flat();
  store.close();
  return rows.map((row) => row.count);
}

describe('when a commit fails', () => {
  it('nothing is acknowledged, the client is cut, readiness says why, and it goes on by itself', async () => {
    const { folder } = prepareFolder({});
    const { faults, openStore } = faultyStore(folder);
    rig = await startRig({ folder, inline: { openStore } });
    const client = await rig.connect({ clientId: 'a' });
    await client.publishAsync(READING_TOPIC, reading(1, 100), { qos: 1 });
    const alarms: string[] = [];
    const screen = await rig.connect();
    screen.on('message', (_topic, payload) =>
      alarms.push((JSON.parse(payload.toString()) as { state: string }).state),
    );
    await screen.subscribeAsync('workshop/out/gateway/alarm/storage-full', { qos: 1 });
    faults.commit = true;
    let isAcknowledged = false;
    client.publish(READING_TOPIC, reading(2, 110), { qos: 1 }, (error) => (isAcknowledged ||= !error));
    await waitFor('cut', () => !client.connected);
    expect(isAcknowledged).toBe(false);
    expect(rig.gateway.ready()).toMatchObject({ ok: false });
    expect(rig.gateway.ready().reasons[0]).toMatch(
      /nothing can be stored: database or disk is full.*Free space/,
    );
    await expect(rig.connect({ clientId: 'b' })).rejects.toThrow(/Server unavailable/);
    expect(storedCounts(rig)).toEqual([100]);
    faults.commit = false;
    await waitFor('ready', () => rig.gateway.ready().ok);
    const again = await rig.connect({ clientId: 'a' });
    await again.publishAsync(READING_TOPIC, reading(2, 110), { qos: 1 });
    expect(storedCounts(rig)).toEqual([100, 110]);
    expect(alarms.at(0)).toBe('unacknowledged');
    expect(alarms.at(-1)).toBe('normal');
    const store = rig.reader();
    const { items } = store.journal({ from: null, to: null, limit: 10, cursor: null });
    store.close();
    expect(items.filter(({ subject }) => subject === 'gateway.storage-full').map(({ to }) => to)).toEqual([
      'unacknowledged',
      'normal',
    ]);
  });
});

describe('when the clock is wrong', () => {
  it('nothing is taken until it is right', async () => {
    const offset = { ms: 0 };
    const clock: ClockSources = { wall: () => Date.now() + offset.ms, monotonic: () => performance.now() };
    rig = await startRig({ inline: { clock } });
    const client = await rig.connect();
    await client.publishAsync(READING_TOPIC, reading(1, 100), { qos: 1 });
    offset.ms = -3_600_000;
    await waitFor('not ready', () => !rig.gateway.ready().ok);
    expect(rig.gateway.ready().reasons[0]).toMatch(/before what is stored already/);
    offset.ms = 0;
    await waitFor('ready again', () => rig.gateway.ready().ok);
  });

  it('a person may let it go on', async () => {
    const offset = { ms: 0 };
    const clock: ClockSources = { wall: () => Date.now() + offset.ms, monotonic: () => performance.now() };
    rig = await startRig({ inline: { clock } });
    const told: number[] = [];
    const unfollow = rig.gateway.followClock((offsetMs) => told.push(offsetMs));
    expect(told).toEqual([0]);
    offset.ms = -3_600_000;
    await waitFor('not ready', () => !rig.gateway.ready().ok);
    await rig.gateway.trustClock('a person');
    await waitFor('ready again', () => rig.gateway.ready().ok);
    // its clock goes on as if the machine's had not been put back, and whoever has a clock of its own is told
    expect(Math.abs(rig.gateway.now() - Date.now())).toBeLessThan(5_000);
    expect(told).toHaveLength(2);
    expect(rig.gateway.now() - clock.wall()).toBeCloseTo(told[1]!, -1);
    // the machine's clock is set right: time must not be an hour ahead from then on
    offset.ms = 0;
    expect(Math.abs(rig.gateway.now() - Date.now())).toBeLessThan(5_000);
    expect(told).toHaveLength(3);
    expect(Math.abs(told[2]!)).toBeLessThan(5_000);
    unfollow();
    // nothing is in doubt any more: whoever says so again is told, and nothing is taken as right for later
    await expect(rig.gateway.trustClock('a person')).rejects.toMatchObject({ code: 'CLOCK_NOT_IN_DOUBT' });
    const client = await rig.connect();
    await client.publishAsync(READING_TOPIC, reading(1, 100), { qos: 1 });
    const store = rig.reader();
    const { items } = store.journal({ from: null, to: null, limit: 10, cursor: null });
    store.close();
    expect(items.map(({ who, text }) => [who, text])).toContainEqual([
      'a person',
      'the clock is taken as right',
    ]);
  });
});

describe('over a restart', () => {
  it('retained messages of the field are found again, cleared ones are not, refused ones never were', async () => {
    const { folder } = prepareFolder({});
    rig = await startRig({ folder });
    const drive = await rig.connect();
    const state = JSON.stringify({ state: 'running', at: Date.now() });
    await drive.publishAsync(STATE, state, { qos: 1, retain: true });
    await drive.publishAsync('workshop/in/pump-2/drive/state', state, { qos: 1, retain: true });
    await drive.publishAsync('workshop/in/pump-2/drive/state', '', { qos: 1, retain: true });
    await drive.publishAsync('workshop/in/pump-1/de/presence', '{"online":"maybe"}', {
      qos: 1,
      retain: true,
    });
    await rig.stop();
    rig = await startRig({ folder });
    const heard: string[] = [];
    const screen = await rig.connect();
    screen.on('message', (topic, payload, { retain }) => {
      if (retain && topic.includes('/in/')) heard.push(`${topic} ${payload.toString()}`);
    });
    await screen.subscribeAsync('workshop/#', { qos: 1 });
    await waitFor('heard', () => heard.length > 0);
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect(heard).toEqual([`${STATE} ${state}`]);
  });

  it('a reading that was stored but not acknowledged is not counted twice', async () => {
    const { folder } = prepareFolder({});
    rig = await startRig({ folder });
    const first = await rig.connect();
    const message = reading(1, 100);
    await first.publishAsync(READING_TOPIC, message, { qos: 1 });
    await rig.stop();
    rig = await startRig({ folder });
    const second = await rig.connect();
    await second.publishAsync(READING_TOPIC, message, { qos: 1 });
    await second.publishAsync(READING_TOPIC, reading(2, 130), { qos: 1 });
    expect(storedCounts(rig)).toEqual([100, 130]);
  });
});

describe('what the gateway says', () => {
  it('its presence is retained, true while it runs and false when it stops', async () => {
    rig = await startRig();
    const heard: unknown[] = [];
    const screen = await rig.connect();
    screen.on('message', (_topic, payload) =>
      heard.push((JSON.parse(payload.toString()) as { online: boolean }).online),
    );
    await screen.subscribeAsync('workshop/out/gateway/presence', { qos: 1 });
    await waitFor('online', () => heard.length === 1);
    await rig.gateway.stop();
    await waitFor('offline', () => heard.length === 2);
    expect(heard).toEqual([true, false]);
  });
});

describe('a reload', () => {
  it('takes new motors in without a restart, and leaves a note', async () => {
    const { folder, file } = prepareFolder({});
    rig = await startRig({ folder });
    const client = await rig.connect();
    const topic = 'workshop/in/fan-1/de/reading';
    await client.publishAsync(topic, reading(1, 1), { qos: 1 });
    expect(storedCounts(rig)).toEqual([]);
    writeFileSync(
      file,
      'site: workshop\nmotors: { fan-1: { positions: { de: {} } }, pump-1: { positions: { de: {} } } }\n',
    );
    const { config, plan } = readConfigFile(file);
    await rig.gateway.reload(config, plan, 'motor fan-1 added');
    await client.publishAsync(topic, reading(2, 7), { qos: 1 });
    expect(storedCounts(rig)).toEqual([7]);
    expect(rig.gateway.plan().revision).toBe(plan.revision);
    const store = rig.reader();
    const { items } = store.journal({ from: null, to: null, limit: 10, cursor: null });
    store.close();
    expect(items.map(({ kind, text }) => [kind, text])).toEqual([['configuration', 'motor fan-1 added']]);
  });

  it('with a password that cannot be read changes nothing', async () => {
    const { folder, file } = prepareFolder({});
    rig = await startRig({ folder });
    const before = rig.gateway.plan().revision;
    const users = 'mqtt: { users: [{ name: s, role: reader, passwordFile: missing }] }\n';
    writeFileSync(file, `site: workshop\n${users}motors: { pump-1: { positions: { de: {} } } }\n`);
    const { config, plan } = readConfigFile(file);
    await expect(rig.gateway.reload(config, plan, 'x')).rejects.toThrow(/missing cannot be read/);
    expect(rig.gateway.plan().revision).toBe(before);
    await rig.connect();
  });
});

it('a backup is a database of its own', async () => {
  rig = await startRig();
  const client = await rig.connect();
  await client.publishAsync(READING_TOPIC, reading(1, 100), { qos: 1 });
  const path = join(rig.folder, 'copy.db');
  const { bytes } = await rig.gateway.backup(path);
  expect(existsSync(path)).toBe(true);
  expect(bytes).toBeGreaterThan(4_096);
  await expect(rig.gateway.backup(path)).rejects.toMatchObject({
    code: 'exists',
    hint: expect.any(String) as string,
  });
});

it('acknowledging an alarm that was never raised is answered, not stored', async () => {
  rig = await startRig();
  const wish = { alarms: ['pump-1.de-rate-high'], act: { do: 'acknowledge' }, who: 'me', note: '' } as const;
  expect(await rig.gateway.operate(wish)).toEqual([
    { alarm: 'pump-1.de-rate-high', refusal: 'unknown-alarm', record: null },
  ]);
});

it('refuses to listen beyond loopback without users', async () => {
  rig = await startRig();
  const { config, plan } = readConfigFile(join(rig.folder, 'site.yaml'));
  const quiet = (): void => undefined;
  const { startGateway } = await import('../../src/gateway.js');
  await expect(
    startGateway({
      ...{
        config,
        plan,
        dataDir: join(rig.folder, 'other'),
        version: 'x',
        mqtt: { host: '0.0.0.0', port: 0 },
      },
      log: { debug: quiet, info: quiet, warn: quiet, error: quiet },
    }),
  ).rejects.toThrow(/loopback only/);
});
