/** `tallypost sinks` as an integrator uses it: beside a gateway that runs and without one, at real receivers, brokers with TLS. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startMqttReceiver, startSparkplugReceiver } from '../receivers/broker-receivers.js';
import { startHttpReceiver } from '../receivers/http-receiver.js';
import type { NetworkReceiver } from '../receivers/network-receiver.js';
import { startPostgresReceiver } from '../receivers/postgres-receiver.js';
import { MISSING_RECEIVERS } from '../receivers/receiver-hall.js';
import { makeAuthority } from '../support/authority.js';
import { freePort, type Finished } from '../support/child.js';
import { runTallypost, startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { listenTo } from '../support/heard-broker.js';
import { findPostgres } from '../support/postgres-cluster.js';
import { BEGIN, makeLittlePlant, type LittlePlant } from './little-plant.js';

interface Status {
  readonly name: string;
  readonly state: string;
  readonly quarantined: number;
  readonly last_error_at: string | null;
  readonly backfills: readonly { readonly refused: number; readonly ended_at: string | null }[];
}

const SITE = 'workshop';
const FROM = new Date(BEGIN).toISOString();
const TO = new Date(BEGIN + 3_600_000).toISOString();
const bin = findPostgres();

describe.runIf(MISSING_RECEIVERS === null)('tallypost sinks', () => {
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-sinks-'));
  const receivers = new Map<string, NetworkReceiver>();
  let plant: LittlePlant;
  let gateway: GatewayProcess | null = null;
  let ports: { readonly mqtt: number; readonly sparkplug: number };
  const ca = join(folder, 'site', 'ca.pem');

  beforeAll(async () => {
    plant = makeLittlePlant();
    const { cert, key } = makeAuthority(join(folder, 'site'));
    ports = { mqtt: await freePort(), sparkplug: await freePort() };
    const tls = (port: number) => [
      `listener ${port} 127.0.0.1`,
      ...[`cafile ${ca}`, `certfile ${cert}`, `keyfile ${key}`],
    ];
    const wishes = { folder: join(folder, 'receivers'), site: SITE, niceness: 0 };
    for (const receiver of await Promise.all([
      startMqttReceiver(wishes, tls(ports.mqtt)),
      startSparkplugReceiver(wishes, tls(ports.sparkplug)),
      startHttpReceiver(wishes),
      startPostgresReceiver(bin!, wishes),
    ]))
      receivers.set(receiver.kind, receiver);
    makeAuthority(join(folder, 'other'));
    writeConfig(ca);
    const { code, err } = await runTallypost(['replay', ...place(), plant.capture]);
    if (code !== 0) throw new Error(err);
  }, 90_000);
  afterAll(async () => {
    await gateway?.stop();
    await Promise.all([...receivers.values()].map((receiver) => receiver.stop()));
    for (const path of [folder, plant.folder]) rmSync(path, { recursive: true, force: true });
  });

  /** `authority`: whom the sinks trust. */
  function writeConfig(authority: string): void {
    const brokers = [
      ['mqtt', ports.mqtt],
      ['sparkplug', ports.sparkplug],
    ] as const;
    const sinks = [
      ...brokers.map(([kind, port]) => ({
        ...{ name: kind, ...receivers.get(kind)!.keys(port) },
        ...{ url: `mqtts://127.0.0.1:${port}`, caFile: authority },
      })),
      ...(['http', 'postgres'] as const).map((kind) => {
        const receiver = receivers.get(kind)!;
        return { name: kind, ...receiver.keys(receiver.port) };
      }),
    ];
    const text = `site: ${SITE}\nmotors:\n  pump-1: { drive: { heartbeatMs: 10000 }, positions: { de: {} } }\nsinks:\n`;
    const lines = sinks.map(
      (sink) => `  - ${JSON.stringify({ ...sink, deadlineMs: 5_000, retryMostMs: 1_000 })}\n`,
    );
    writeFileSync(plant.config, text + lines.join(''));
  }

  const place = (): string[] => ['--config', plant.config, '--data', plant.dataDir];
  const beside = (): string[] => ['--data', plant.dataDir];
  const sinks = (...args: string[]) => runTallypost(['sinks', ...args]);
  const readStatus = async (): Promise<Status[]> =>
    (JSON.parse((await sinks('status', ...beside(), '--json')).out) as { sinks: Status[] }).sinks;
  const expectGood = ({ code, out, err }: Finished): void => {
    expect(out + err).toMatch(/^good: /);
    expect(code).toBe(0);
  };

  it.each(['mqtt', 'sparkplug', 'http', 'postgres'])(
    'without a gateway a test record goes to %s',
    async (kind) => {
      expectGood(await sinks('test', kind, ...place()));
      expect((await receivers.get(kind)!.held()).map(({ stream, key }) => `${stream} ${key}`)).toContain(
        'journal 0',
      );
    },
  );

  it.each(['mqtt', 'sparkplug'])(
    'a broker %s with a certificate of somebody else is not believed',
    async (kind) => {
      writeConfig(join(folder, 'other', 'ca.pem'));
      const done = await sinks('test', kind, ...place());
      writeConfig(ca);
      expect(done.code).toBe(1);
      expect(done.out).toMatch(/^BAD: .*certificate/);
    },
  );

  it('prepares what needs it, says what it found, and that the others need nothing', async () => {
    const again = await sinks('prepare', 'postgres', ...place());
    expect(again).toMatchObject({ code: 0 });
    expect(again.out).toContain('rollups');
    const none = await sinks('prepare', 'http', ...place());
    expect(none).toMatchObject({ code: 0, out: 'A sink of the kind http needs no preparation.\n' });
  });

  it('asks for the gateway where there is none', async () => {
    for (const action of [['status'], ['retry', 'http'], ['backfill', 'http', '--from', FROM, '--to', TO]]) {
      const done = await sinks(...action, ...beside());
      expect(done.code, action[0]).not.toBe(0);
      expect(done.err, action[0]).toMatch(/gateway/);
    }
  });

  it('a gateway that runs tells how each stands, sends a test, and a stretch again', async () => {
    gateway = await startGatewayProcess({ configFile: plant.config, dataDir: plant.dataDir });
    await expect
      .poll(async () => (await sinks('status', ...beside())).out.match(/ live /g)?.length ?? 0, {
        timeout: 30_000,
      })
      .toBe(4);
    for (const kind of receivers.keys()) {
      const done = await sinks('test', kind, ...beside());
      expectGood(done);
      const asked = await sinks(
        'backfill',
        kind,
        ...beside(),
        '--from',
        FROM,
        '--to',
        TO,
        '--stream',
        'rollups',
      );
      expect(asked.out).toMatch(/^Backfill \d+ is under way/);
    }
    const wanted = ['1m', '10m'].map((period) => `pump-1/de|${period}|${BEGIN}`);
    for (const receiver of receivers.values())
      await expect
        .poll(async () => (await receiver.held()).map(({ key }) => key), { timeout: 30_000 })
        .toEqual(expect.arrayContaining(wanted));
    for (const { backfills } of await readStatus()) {
      expect(backfills[0]!.refused).toBe(0);
      expect(backfills[0]!.ended_at).not.toBeNull();
    }
    expect((await sinks('backfill', 'no-such', ...beside(), '--from', FROM, '--to', TO)).code).not.toBe(0);
  }, 120_000);

  it('what was refused is told by status, and goes with retry when the cause is gone', async () => {
    const poison = `pump-1/de|1m|${BEGIN + 300_000}`;
    const http = receivers.get('http')!;
    await http.poison!(poison);
    await sinks('backfill', 'http', ...beside(), '--from', FROM, '--to', TO, '--period', '1m');
    await expect
      .poll(async () => (await readStatus()).find(({ name }) => name === 'http')?.quarantined, {
        timeout: 30_000,
      })
      .toBe(1);
    expect((await sinks('status', ...beside())).out.replace(/\s+/g, ' ')).toContain('1 refused for good');
    await http.poison!(null);
    expect((await sinks('retry', 'http', ...beside())).out).toBe(
      '1 records are sent again: see "tallypost sinks status".\n',
    );
    await expect
      .poll(async () => (await sinks('retry', 'http', ...beside())).out, { timeout: 30_000 })
      .toBe('Nothing is quarantined.\n');
    expect((await http.held()).map(({ key }) => key)).toContain(poison);
  }, 90_000);

  it('a test with the configuration alone pushes no running gateway off its broker', async () => {
    const since = new Date().toISOString();
    const host = await listenTo(`mqtt://127.0.0.1:${receivers.get('sparkplug')!.port}`, ['spBv1.0/#']);
    for (const kind of ['sparkplug', 'mqtt']) expectGood(await sinks('test', kind, '--config', plant.config));
    const told = host.heard.map(({ topic }) => topic).filter((topic) => !topic.includes('STATE'));
    expect(told).toContain(`spBv1.0/${SITE}/NBIRTH/pump-house-test`);
    expect(told.filter((topic) => /pump-house(\/|$)/.test(topic) && /[ND](DEATH|BIRTH)/.test(topic))).toEqual(
      [],
    );
    await host.close();
    for (const { name, state, last_error_at: at } of await readStatus())
      expect([name, state, (at ?? '') < since]).toEqual([name, 'live', true]);
  }, 60_000);

  it('a test of a sink whose receiver is gone ends with 1 and says why', async () => {
    await receivers.get('http')!.mortals[0]!.kill();
    await sinks('test', 'http', ...beside()).then(({ code, out }) => {
      expect(code).toBe(1);
      expect(out).toMatch(/^BAD: .*ECONNREFUSED/);
    });
  }, 60_000);
});
