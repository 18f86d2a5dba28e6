/** The program as a process: what it says, and what its signals do. Needs the build, which `npm test` makes first. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt from 'mqtt';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { freePort, startChild } from '../support/child.js';
import { type GatewayProcess, runTallypost, startGatewayProcess } from '../support/gateway-process.js';
import { builtFile } from '../support/repository.js';

const CONFIG = 'site: workshop\nmotors:\n  pump-1: { positions: { de: {} } }\n';
let folder: string;
let config: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-run-'));
  config = join(folder, 'workshop.yaml');
  writeFileSync(config, CONFIG);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function start(): Promise<GatewayProcess> {
  return startGatewayProcess({ configFile: config, dataDir: join(folder, 'data') });
}

async function waitFor(holds: () => boolean | Promise<boolean>): Promise<void> {
  const due = Date.now() + 15_000;
  while (!(await holds())) {
    if (Date.now() > due) throw new Error('it did not come true within 15 s');
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

async function publish(port: number, count: number): Promise<void> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`);
  await client.publishAsync('workshop/in/pump-1/de/reading', JSON.stringify({ count, at: Date.now() }), {
    qos: 1,
  });
  await client.endAsync();
}

describe('tallypost run', () => {
  it('says where it listens, can be found, and leaves no trace of itself after SIGTERM', async () => {
    const gateway = await start();
    const file = join(folder, 'data', 'gateway.json');
    await waitFor(() => existsSync(file));
    expect(JSON.parse(readFileSync(file, 'utf8'))).toMatchObject({
      http: gateway.http,
      pid: gateway.child.pid,
    });
    expect(gateway.child.said()).toContain(`MQTT on mqtt://127.0.0.1:${gateway.mqttPort}`);
    expect(gateway.child.said()).toContain('no users are configured');
    gateway.child.process.kill('SIGTERM');
    expect(await gateway.child.ended).toEqual({ code: 0, signal: null });
    expect(existsSync(file)).toBe(false);
  });

  it('refuses to be the second on a data directory, and says who is the first', async () => {
    const gateway = await start();
    await waitFor(() => existsSync(join(folder, 'data', 'gateway.json')));
    const { code, err } = await runTallypost(['run', '--config', config, '--data', join(folder, 'data')]);
    expect(code).toBe(3);
    expect(err).toContain(`process ${gateway.child.pid}`);
    await gateway.stop();
  });

  it('is copied by the backup command while it runs', async () => {
    const gateway = await start();
    await publish(gateway.mqttPort, 7);
    await waitFor(() => existsSync(join(folder, 'data', 'gateway.json')));
    const out = join(folder, 'copy.db');
    const backup = await runTallypost(['backup', '--data', join(folder, 'data'), '--json', out]);
    expect(JSON.parse(backup.out)).toMatchObject({ path: out, by: 'gateway' });
    await gateway.stop();
  });

  it('reloads at SIGHUP, and keeps the old configuration when the new one is wrong', async () => {
    const gateway = await start();
    await waitFor(() => existsSync(join(folder, 'data', 'gateway.json')));
    writeFileSync(config, `${CONFIG}  pump-2: { positions: { de: {} } }\n`);
    gateway.child.process.kill('SIGHUP');
    const countMotors = async (): Promise<number> => {
      const response = await fetch(`${gateway.http}/api/v1/motors`);
      return ((await response.json()) as { motors: unknown[] }).motors.length;
    };
    await waitFor(async () => (await countMotors()) === 2);
    writeFileSync(config, 'site: workshop\nmotrs: {}\n');
    gateway.child.process.kill('SIGHUP');
    await waitFor(() => gateway.child.said().includes('running configuration differs from file'));
    expect(await countMotors()).toBe(2);
    const journal = await (await fetch(`${gateway.http}/api/v1/journal`)).text();
    expect(journal).toContain('motor pump-2 added');
    await gateway.stop();
  });

  it('on an address that is taken fails with what to do, exit 3', async () => {
    const gateway = await start();
    const listen = ['--mqtt', `127.0.0.1:${gateway.mqttPort}`, '--http', '127.0.0.1:0'];
    const { code, err } = await runTallypost([
      'run',
      '--config',
      config,
      '--data',
      join(folder, 'other'),
      ...listen,
    ]);
    expect(code).toBe(3);
    expect(err).toContain('Stop it, or choose another port with --mqtt.');
    await gateway.stop();
  });

  it('does not serve HTTP beyond this machine, exit 3', async () => {
    const listen = ['--mqtt', '127.0.0.1:0', '--http', '0.0.0.0:0'];
    const { code, err } = await runTallypost([
      'run',
      '--config',
      config,
      '--data',
      join(folder, 'data'),
      ...listen,
    ]);
    expect(code).toBe(3);
    expect(err).toContain('will not listen on 0.0.0.0');
  });
});

describe('tallypost capture', () => {
  it('records what arrives so that replay reads it', async () => {
    const port = await freePort();
    const out = join(folder, 'morning.ndjson.gz');
    const args = ['capture', '--config', config, '--mqtt', `127.0.0.1:${port}`, out];
    const child = startChild(process.execPath, [builtFile('src/main.js'), ...args]);
    await waitFor(() => child.said().includes('listening on'));
    for (const count of [5, 9, 12]) await publish(port, count);
    child.process.kill('SIGINT');
    expect((await child.ended).code).toBe(0);
    expect(child.said()).toContain('3 messages, 3 acknowledged');
    const replay = await runTallypost([
      'replay',
      '--config',
      config,
      '--data',
      join(folder, 'data'),
      '--json',
      out,
    ]);
    expect(JSON.parse(replay.out)).toMatchObject({ readings: 3, refused: 0, balanced: true });
    const again = await runTallypost([
      'capture',
      '--config',
      config,
      '--mqtt',
      `127.0.0.1:${port}`,
      '--seconds',
      '1',
      out,
    ]);
    expect(again.code).toBe(3);
  });
});
