/** The thread of the HTTP interface ends, or the main thread hangs. Needs the build, which `npm test` makes first. */
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sleep } from '../support/child.js';
import { startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import type { FaultOrder } from '../support/thread-faults.js';

let folder: string;
let gateway: GatewayProcess;
let client: MqttClient;
let orders: string;
let count = 0;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-web-'));
  orders = join(folder, 'orders');
  const configFile = join(folder, 'plant.yaml');
  writeFileSync(configFile, 'site: workshop\nmotors:\n  pump-1: { positions: { de: {} } }\n');
  gateway = await startGatewayProcess({
    ...{ configFile, dataDir: join(folder, 'data'), preload: 'tests/support/thread-faults.js' },
    env: { TALLYPOST_TEST_FAULTS: orders },
  });
  client = await mqtt.connectAsync(`mqtt://127.0.0.1:${gateway.mqttPort}`);
});
afterAll(async () => {
  await client.endAsync();
  await gateway.stop();
  rmSync(folder, { recursive: true, force: true });
});

function order(what: FaultOrder): void {
  rmSync(`${orders}.taken`, { force: true });
  writeFileSync(orders, what);
}

async function waitFor(holds: () => boolean | Promise<boolean>): Promise<void> {
  const due = Date.now() + 30_000;
  while (!(await holds())) {
    if (Date.now() > due) throw new Error(`it did not come true within 30 s:\n${gateway.child.said()}`);
    await sleep(20);
  }
}

/** Status and text; null: nobody listens. */
async function get(path: string): Promise<{ status: number; text: string } | null> {
  try {
    const response = await fetch(gateway.http + path, { signal: AbortSignal.timeout(15_000) });
    return { status: response.status, text: await response.text() };
  } catch {
    return null;
  }
}

/** Resolves with its acknowledgement. */
async function publish(): Promise<void> {
  const body = JSON.stringify({ count: (count += 1), at: Date.now() });
  await client.publishAsync('workshop/in/pump-1/de/reading', body, { qos: 1 });
}

async function readRestarts(): Promise<number> {
  const { text = '' } = (await get('/metrics')) ?? {};
  return Number(/^tallypost_http_restarts_total (\d+)$/m.exec(text)?.[1] ?? NaN);
}

async function listPackages(thread: 'main' | 'web'): Promise<string[]> {
  rmSync(`${orders}.packages`, { force: true });
  order(`${thread} list-packages`);
  await waitFor(() => existsSync(`${orders}.packages`));
  await sleep(50);
  return JSON.parse(readFileSync(`${orders}.packages`, 'utf8')) as string[];
}

describe('a gateway with the HTTP interface on a thread of its own', () => {
  it('has the HTTP library there and not on the thread that acknowledges', async () => {
    expect(await listPackages('web')).toContain('fastify');
    const main = await listPackages('main');
    expect(main).toContain('aedes');
    expect(main).not.toContain('fastify');
  });

  it.runIf(process.platform === 'linux')('runs it and the helpers of Node.js behind the intake', async () => {
    await get('/api/v1/motors');
    const niceOf = (thread: string): number =>
      // Source: proc(5), field 19 of stat, behind the name in brackets
      Number(
        readFileSync(`/proc/${gateway.child.pid}/task/${thread}/stat`, 'utf8')
          .split(') ')
          .at(-1)
          ?.split(' ')[16],
      );
    const main = niceOf(String(gateway.child.pid));
    const steps = readdirSync(`/proc/${gateway.child.pid}/task`).map((thread) => niceOf(thread) - main);
    // main thread and engine; helpers; the HTTP interface and a thread that reads for it
    expect(steps.filter((step) => step === 0).length).toBeGreaterThanOrEqual(2);
    expect(steps.filter((step) => step === 1).length).toBeGreaterThanOrEqual(4);
    expect(steps.filter((step) => step === Math.max(0, 10 - main)).length).toBeGreaterThanOrEqual(2);
  });

  it.each(['throw', 'fill-memory'] as const)(
    'goes on taking readings when that thread ends (%s), and listens again on the same port',
    async (how) => {
      const before = await readRestarts();
      const lines = gateway.child.said().split('it is started again').length;
      order(`web ${how}`);
      await waitFor(async () => {
        await publish();
        return gateway.child.said().split('it is started again').length > lines;
      });
      await publish();
      await waitFor(async () => (await get('/live'))?.status === 200);
      expect(await readRestarts()).toBe(before + 1);
      const sensors = await get('/api/v1/sensors');
      expect([sensors?.status, sensors?.text.includes('"last_reading_at":null')]).toEqual([200, false]);
    },
  );

  it('says so when the thread that acknowledges hangs, and is well again after it', async () => {
    expect((await get('/ready'))?.status).toBe(200);
    order('main hang');
    await waitFor(() => existsSync(`${orders}.taken`));
    const [live, ready, list] = await Promise.all([get('/live'), get('/ready'), get('/api/v1/alarms')]);
    expect([live?.status, ready?.status, list?.status]).toEqual([503, 503, 503]);
    expect(JSON.parse(live!.text)).toEqual({ live: false });
    expect(JSON.parse(ready!.text)).toMatchObject({
      ready: false,
      reasons: [expect.stringContaining('the gateway does not answer')],
    });
    expect(list!.text).toContain('the gateway does not answer');
    await waitFor(async () => (await get('/ready'))?.status === 200);
  });
});
