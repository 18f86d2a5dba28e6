/** The HTTP interface in front of a real gateway and a store that a recording filled. */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { pino } from 'pino';
import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  alarmsBody,
  diagnosticsBody,
  ledgerBody,
  motorsBody,
  quarantineBody,
  rollupsBody,
  sensorsBody,
  transientsBody,
} from '../../src/api/bodies.js';
import { journalBody } from '../../src/api/journal-bodies.js';
import { bearingLifeSchema } from '../../shared/bearing-life.js';
import { countSchema } from '../../shared/counts.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { type LittlePlant, makeLittlePlant } from '../cli/little-plant.js';
import { runTallypost } from '../cli/recorder.js';

const ANY_PORT = { host: '127.0.0.1', port: 0 };
let plant: LittlePlant;
let station: Station;

beforeAll(async () => {
  // recent, or retention would clear it away
  plant = makeLittlePlant(Math.floor(Date.now() / 60_000) * 60_000 - 3_600_000);
  const { code, err } = await runTallypost(
    'replay',
    '--config',
    plant.config,
    '--data',
    plant.dataDir,
    plant.capture,
  );
  if (code !== 0) throw new Error(err);
  const loaded = loadConfig(plant.config);
  if (!loaded.ok) throw new Error('the configuration of the test is wrong');
  const log = pino({ level: 'silent' });
  station = await startStation({ ...loaded, dataDir: plant.dataDir, mqtt: ANY_PORT, http: ANY_PORT, log });
});
afterAll(async () => {
  await station.stop();
  rmSync(plant.folder, { recursive: true, force: true });
});

async function getJson(path: string): Promise<unknown> {
  const response = await fetch(station.http + path);
  expect(response.status).toBe(200);
  return response.json();
}

async function waitFor(holds: () => Promise<boolean>): Promise<void> {
  const due = Date.now() + 10_000;
  while (!(await holds())) {
    if (Date.now() > due) throw new Error('it did not come true within 10 s');
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

describe('a gateway that goes on from a recording', () => {
  it('is ready, and every list has its documented body', async () => {
    expect(await getJson('/ready')).toEqual({ ready: true, reasons: [] });
    expect(motorsBody.parse(await getJson('/api/v1/motors')).motors).toHaveLength(1);
    expect(sensorsBody.parse(await getJson('/api/v1/sensors')).sensors[0]).toMatchObject({
      device: 'SN-0412',
    });
    expect(transientsBody.parse(await getJson('/api/v1/transients')).transients[0]).toMatchObject({
      kind: 'start',
    });
    expect(journalBody.parse(await getJson('/api/v1/journal')).journal.length).toBeGreaterThan(0);
    expect(quarantineBody.parse(await getJson('/api/v1/quarantine')).quarantine).toHaveLength(1);
    diagnosticsBody.parse(await getJson('/api/v1/diagnostics'));
    const { balanced, sensors } = ledgerBody.parse(await getJson('/api/v1/ledger'));
    expect([balanced, sensors[0]?.counted]).toEqual([true, plant.pulses]);
  });

  it('pages of rollups join without gap or overlap', async () => {
    const whole = rollupsBody.parse(await getJson('/api/v1/rollups?sensor=pump-1/de&limit=1000')).rollups;
    const joined: string[] = [];
    let cursor: string | null = '';
    while (cursor !== null) {
      const query: string = cursor === '' ? '' : `&cursor=${cursor}`;
      const page = rollupsBody.parse(await getJson(`/api/v1/rollups?sensor=pump-1/de&limit=7${query}`));
      joined.push(...page.rollups.map((row) => row.start));
      cursor = page.next;
    }
    expect(joined).toEqual(whole.map((row) => row.start));
  });

  it('a cursor of somebody else is a mistake that the answer explains', async () => {
    const strange = Buffer.from('[{}]').toString('base64url');
    for (const path of ['rollups?cursor=abc', `journal?cursor=${strange}`]) {
      const response = await fetch(`${station.http}/api/v1/${path}`);
      expect(response.status).toBe(400);
      expect(await response.json()).toMatchObject({ faults: [{ name: 'cursor' }] });
    }
  });

  it('the alarm raised from the recording is acknowledged by a person, once', async () => {
    const { alarms } = alarmsBody.parse(await getJson('/api/v1/alarms?state=open'));
    const alarm = alarms.find((each) => each.kind === 'rate-high');
    expect(alarm).toMatchObject({ state: 'unacknowledged', action: 'Take a grease sample.' });
    const acknowledge = (): Promise<Response> =>
      fetch(`${station.http}/api/v1/alarms/${alarm?.id}/acknowledge`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ who: 'A. Operator', note: 'sample taken' }),
      });
    const first = await acknowledge();
    expect(await first.json()).toMatchObject({ state: 'acknowledged', acknowledged_by: 'A. Operator' });
    expect((await acknowledge()).status).toBe(409);
    const { journal } = journalBody.parse(await getJson('/api/v1/journal'));
    expect(journal.filter((entry) => entry.who === 'A. Operator').length).toBeGreaterThan(0);
  });

  it('a count of the past and the life of a bearing are read from the same store', async () => {
    const { from: first } = transientsBody.parse(await getJson('/api/v1/transients')).transients[0]!;
    const from = Math.ceil(Date.parse(first) / 60_000) * 60_000 + 600_000;
    const path = `/api/v1/counts?sensor=pump-1/de&from=${from}&to=${from + 60_000}`;
    expect(countSchema.parse(await getJson(path))).toMatchObject({
      ...{ pulses: 90, rate_per_min: 90, settled: true },
      covered: { ms: 60_000 },
      run_states: [{ state: 'running' }],
    });
    const life = bearingLifeSchema.parse(await getJson('/api/v1/motors/pump-1/bearing-life?position=de'));
    expect(life).toMatchObject({ fitted_by: 'first-data', earlier: [], actions: [] });
    expect(life.running_pulses + life.transient_pulses).toBe(plant.pulses);
  });

  it('a reading that comes in over MQTT is seen over HTTP after its commit', async () => {
    const client = await mqtt.connectAsync(station.mqtt, { clientId: 'sensor' });
    const at = Date.now();
    const body = { device: 'SN-0412', boot: 3, seq: 500, count: 9000, at };
    await client.publishAsync('workshop/in/pump-1/de/reading', JSON.stringify(body), { qos: 1 });
    const { sensors } = sensorsBody.parse(await getJson('/api/v1/sensors'));
    expect(sensors[0]?.last_reading_at).toBe(new Date(at).toISOString());
    await client.endAsync();
  });

  it('the live stream carries a drive message', async () => {
    const abort = new AbortController();
    const response = await fetch(`${station.http}/api/v1/live`, { signal: abort.signal });
    const reader = response.body?.getReader();
    const client = await mqtt.connectAsync(station.mqtt, { clientId: 'drive' });
    await client.publishAsync(
      'workshop/in/pump-1/drive/state',
      JSON.stringify({ state: 'stopped', at: Date.now() }),
      {
        qos: 1,
        retain: true,
      },
    );
    let text = '';
    while (!text.includes('event: drive')) {
      const piece = await reader?.read();
      if (piece === undefined || piece.done) break;
      text += new TextDecoder().decode(piece.value);
    }
    expect(text).toMatch(/event: drive\ndata: \{"motor":"pump-1","state":"stopped"/);
    abort.abort();
    await client.endAsync();
  });

  it('copies its store while it runs', async () => {
    const path = join(plant.folder, 'live-copy.db');
    const response = await fetch(`${station.http}/api/v1/backups`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ path }),
    });
    expect(response.status).toBe(200);
    const dataDir = join(plant.folder, 'from-copy');
    expect((await runTallypost('restore', '--data', dataDir, path)).code).toBe(0);
    expect((await runTallypost('ledger', '--data', dataDir)).code).toBe(0);
  });

  it('metrics count what came in', async () => {
    await waitFor(async () => {
      const text = await (await fetch(`${station.http}/metrics`)).text();
      return /^tallypost_messages_received_total [1-9]/m.test(text) && text.endsWith('# EOF\n');
    });
  });
});
