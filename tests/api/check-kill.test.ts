/** A function check is started over HTTP, the gateway is killed, and the sparks that come then are still those of a check. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { ledgerBody } from '../../src/api/bodies.js';
import { runBody } from '../../src/api/commissioning-bodies.js';
import { journalBody } from '../../src/api/journal-bodies.js';
import { sleep } from '../support/child.js';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';

/** No run-state signal: whatever is not a check counts as running. */
const CONFIG = `
site: workshop
motors:
  pump-1: { drive: { runState: none }, positions: { de: { intervalMs: 500 } } }
`;
const SENSOR = 'pump-1/de';

let folder: string;
let gateway: GatewayProcess;
let sensor: MqttClient;
let count = 100;
let seq = 0;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-check-'));
  writeFileSync(join(folder, 'plant.yaml'), CONFIG);
  await start();
}, 60_000);
afterAll(async () => {
  sensor.end(true);
  await gateway.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function start(): Promise<void> {
  gateway = await startGatewayProcess({
    ...{ configFile: join(folder, 'plant.yaml'), dataDir: join(folder, 'data') },
  });
  sensor = await mqtt.connectAsync(`mqtt://127.0.0.1:${gateway.mqttPort}`, { reconnectPeriod: 0 });
  sensor.on('error', () => undefined);
}

async function kill(): Promise<void> {
  gateway.child.process.kill('SIGKILL');
  await gateway.child.ended;
  sensor.end(true);
}

/** A reading a moment later than the last one, with so many pulses more. */
async function send(pulses: number): Promise<void> {
  count += pulses;
  const body = { device: 'SN-1', boot: 1, seq: seq++, count, at: Date.now() };
  await sensor.publishAsync('workshop/in/pump-1/de/reading', JSON.stringify(body), { qos: 1 });
  await sleep(50);
}

async function ask(path: string, body?: object): Promise<unknown> {
  const post = {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(body),
  };
  const response = await fetch(gateway.http + path, body === undefined ? {} : post);
  const answer: unknown = await response.json();
  if (!response.ok) throw new Error(JSON.stringify(answer));
  return answer;
}

async function readLedger() {
  const { sensors } = ledgerBody.parse(await ask('/api/v1/ledger'));
  return sensors.find((row) => row.sensor === SENSOR)!;
}

it('sparks are in class check over a kill, from the begin of the step to its end', async () => {
  await send(0);
  await send(3);
  await sleep(300);
  const { id } = runBody.parse(await ask('/api/v1/commissioning', { motor: 'pump-1', who: 'J. Field' }));
  await send(0);
  await ask(`/api/v1/commissioning/${id}/steps`, { step: 'check', sensor: SENSOR, who: 'J. Field' });
  await send(5);
  await kill();
  await start();
  await send(12);
  await send(4);
  await kill();
  await start();
  await ask(`/api/v1/commissioning/${id}/finish`, { who: 'J. Field' });
  await send(0);
  await send(7);

  const due = Date.now() + 60_000;
  let row = await readLedger();
  while (row.pending > 0 && Date.now() < due) {
    await sleep(500);
    row = await readLedger();
  }
  expect(row).toMatchObject({ balanced: true, counted: 31, classified: 31, pending: 0 });
  expect(row.classes).toMatchObject({ check: { pulses: 21 }, running: { pulses: 10 } });

  const { journal } = journalBody.parse(await ask(`/api/v1/journal?kind=operator&subject=${SENSOR}`));
  expect(journal.map(({ who, from, to }) => [who, from, to])).toEqual([
    ['J. Field', '', 'check'],
    ['J. Field', 'check', ''],
  ]);
}, 120_000);
