/** Guided commissioning at a real gateway: a motor is started, stopped and checked over MQTT, and the result is kept. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runBody, runsBody, type RunBody } from '../../src/api/commissioning-bodies.js';
import { gatewayBody } from '../../src/api/gateway-bodies.js';
import { journalBody } from '../../src/api/journal-bodies.js';
import { strangersBody, wiringBody } from '../../src/api/wiring-bodies.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';

const ANY_PORT = { host: '127.0.0.1', port: 0 };
const CONFIG = `
site: workshop
mqtt:
  users:
    - { name: pump-1-de, role: device, sensors: [pump-1/de], passwordFile: secret }
    - { name: drives, role: drive, motors: [pump-1], passwordFile: secret }
    - { name: watcher, role: reader, passwordFile: secret }
gate: { beforeEdgeMs: 1000, afterRunningMs: 1000, afterStoppedMs: 1000 }
motors:
  pump-1:
    drive: {}
    positions: { de: { intervalMs: 500 } }
`;
let folder: string;
let station: Station;
let sensor: MqttClient;
let drive: MqttClient;
let count = 100;
let seq = 0;

const sleep = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

function start(): Promise<Station> {
  const loaded = loadConfig(join(folder, 'plant.yaml'));
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
  const log = pino({ level: 'silent' });
  return startStation({ ...loaded, dataDir: join(folder, 'data'), mqtt: ANY_PORT, http: ANY_PORT, log });
}

const connect = (name: string): Promise<MqttClient> =>
  mqtt.connectAsync(station.mqtt, { clientId: name, username: name, password: 'a-long-secret' });

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-commissioning-'));
  writeFileSync(join(folder, 'plant.yaml'), CONFIG);
  writeFileSync(join(folder, 'secret'), 'a-long-secret\n', { mode: 0o600 });
  station = await start();
  sensor = await connect('pump-1-de');
  drive = await connect('drives');
  await drive.publishAsync('workshop/in/pump-1/drive/presence', '{"online":true}', { qos: 1, retain: true });
  await tellDrive('stopped');
  await send(0);
});
afterAll(async () => {
  await sensor.endAsync(true);
  await drive.endAsync(true);
  await station.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function send(pulses: number): Promise<void> {
  count += pulses;
  const body = { device: 'SN-1', boot: 1, seq: seq++, count, at: Date.now() };
  await sensor.publishAsync('workshop/in/pump-1/de/reading', JSON.stringify(body), { qos: 1 });
}

async function tellDrive(state: string): Promise<void> {
  const body = JSON.stringify({ state, at: Date.now(), since: Date.now() });
  await drive.publishAsync('workshop/in/pump-1/drive/state', body, { qos: 1, retain: true });
}

async function ask(path: string, body?: object): Promise<unknown> {
  const response = await fetch(station.http + path, {
    ...(body === undefined
      ? {}
      : { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
  });
  const answer: unknown = await response.json();
  if (!response.ok) throw new Error(JSON.stringify(answer));
  return answer;
}

/** Sends readings until the present step is decided. */
async function untilDecided(
  id: number,
  pulses: () => number,
  patienceMs = 20_000,
): Promise<RunBody['steps'][number]> {
  const due = Date.now() + patienceMs;
  for (;;) {
    await send(pulses());
    const run = runBody.parse(await ask(`/api/v1/commissioning/${id}`));
    const step = run.steps.at(-1)!;
    if (step.verdict.state !== 'waiting') return step;
    if (Date.now() > due) throw new Error(`undecided: ${step.verdict.says}`);
    await sleep(400);
  }
}

describe('guided commissioning', () => {
  it('hears the start, counts the check, survives a restart in between, and keeps who did it and when', async () => {
    for (let i = 0; i < 3; i++) {
      await send(0);
      await sleep(300);
    }
    const { id } = runBody.parse(await ask('/api/v1/commissioning', { motor: 'pump-1', who: 'J. Field' }));
    await expect(ask('/api/v1/commissioning', { motor: 'pump-1', who: 'X' })).rejects.toThrow('open-already');
    await ask(`/api/v1/commissioning/${id}/steps`, { step: 'check', sensor: 'pump-1/de', who: 'J. Field' });
    let sparks = 0;
    const check = await untilDecided(id, () => (sparks++ === 1 ? 12 : 0));
    expect(check.verdict).toMatchObject({ state: 'passed', says: 'pump-1/de counted 12 sparks' });

    await sensor.endAsync();
    await drive.endAsync();
    await station.stop();
    station = await start();
    sensor = await connect('pump-1-de');
    drive = await connect('drives');
    await tellDrive('stopped');

    const next = runBody.parse(await ask(`/api/v1/commissioning/${id}`)).next;
    expect(next).toMatchObject({ step: 'start' });
    await ask(`/api/v1/commissioning/${id}/steps`, { step: 'start', who: 'J. Field' });
    await tellDrive('starting');
    await send(30);
    await tellDrive('running');
    const started = await untilDecided(id, () => 3);
    expect(started.verdict.state).toBe('passed');
    expect(started.verdict.says).toContain('heard by pump-1/de');

    const done = runBody.parse(
      await ask(`/api/v1/commissioning/${id}/finish`, { who: 'J. Field', note: 'stop left for tonight' }),
    );
    expect(done).toMatchObject({ state: 'incomplete', closed_by: 'J. Field', note: 'stop left for tonight' });
    expect(done.closed_at).not.toBeNull();
    const { runs } = runsBody.parse(await ask('/api/v1/commissioning?motor=pump-1'));
    expect(runs.map((run) => [run.id, run.state])).toEqual([[id, 'incomplete']]);
    const { journal } = journalBody.parse(await ask('/api/v1/journal?kind=operator&subject=pump-1'));
    expect(journal.map(({ who }) => who)).toEqual(['J. Field', 'J. Field']);
    expect(journal.at(-1)?.text).toContain('stop: not done');
    await expect(ask(`/api/v1/commissioning/${id}/finish`, { who: 'X' })).rejects.toThrow('closed');
  }, 90_000);

  it('the wiring of the same sensor holds, and whoever was turned away is named with the rule', async () => {
    const before = wiringBody.parse(await ask('/api/v1/wiring?motor=pump-1')).sensors[0]!;
    expect(before.chain.filter(({ state }) => state === 'fault').map(({ link }) => link)).toEqual([]);
    await sensor.publishAsync('workshop/in/pump-1/nde/reading', '{"count":1}', { qos: 1 });
    await expect(
      mqtt.connectAsync(station.mqtt, { username: 'pump-1-de', password: 'wrong', reconnectPeriod: 0 }),
    ).rejects.toThrow();
    await drive.subscribeAsync('workshop/#').catch(() => undefined);
    const { strangers } = strangersBody.parse(await ask('/api/v1/strangers'));
    const kinds = strangers.map(({ kind, login }) => `${kind} ${login}`).sort();
    expect(kinds).toEqual(['denied-publish pump-1-de', 'denied-subscribe drives', 'failed-login pump-1-de']);
    const denied = strangers.find(({ kind }) => kind === 'denied-publish');
    expect(denied?.rule).toBe(
      'the device pump-1-de may publish reading and presence of pump-1/de below workshop/in/ only',
    );
    const after = wiringBody.parse(await ask('/api/v1/wiring')).sensors[0]!;
    expect(after.chain[1]).toMatchObject({ link: 'authorised', state: 'fault' });
  });

  it('the gateway tells its disk, its proof and the file it runs on', async () => {
    const due = Date.now() + 20_000;
    let body = gatewayBody.parse(await ask('/api/v1/gateway'));
    while (body.ledger.state === 'not-proved' && Date.now() < due) {
      await sleep(100);
      body = gatewayBody.parse(await ask('/api/v1/gateway'));
    }
    expect(body.ledger).toMatchObject({ state: 'balanced', sensors: 1 });
    expect(body.storage.database_bytes).toBeGreaterThan(0);
    expect(body.storage.free_bytes).toBeGreaterThan(0);
    expect(body.configuration).toMatchObject({ state: 'same', changes: [] });
    writeFileSync(join(folder, 'plant.yaml'), `${CONFIG}\ntimeZone: Europe/London\n`);
    const changed = gatewayBody.parse(await ask('/api/v1/gateway')).configuration;
    expect(changed).toMatchObject({
      ...{ state: 'differs', changes: [{ path: 'timeZone', file: '"Europe/London"' }] },
    });
    writeFileSync(join(folder, 'plant.yaml'), 'site: [');
    expect(gatewayBody.parse(await ask('/api/v1/gateway')).configuration.state).toBe('not-valid');
  });
});
