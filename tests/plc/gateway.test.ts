/** The servers beside a whole gateway: from a reading to a register, from a panel into the journal, and a killed server. Needs the build. */
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { resolveNodeId, StatusCodes } from 'node-opcua-client';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { writeFrame } from '../../src/plc/modbus-frames.js';
import { freePort, sleep } from '../support/child.js';
import { runTallypost, startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { connectHmi, type Hmi } from './opcua-client.js';

const PASSWORD = 'a long enough one';
const ALARM = 'pump-1.drive-run-state-lost';
/** fan-1 has the second slot: rate, and its quality. */
const [RATE, QUALITY] = [64 + 64 + 16, 64 + 64 + 16 + 6];
const UNKNOWN = 0xffff_ffff;
let folder: string;
let gateway: GatewayProcess;
let client: MqttClient;
let ports: { modbus: number; opcua: number };

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-plc-'));
  ports = { modbus: await freePort(), opcua: await freePort() };
  mkdirSync(join(folder, 'panel'));
  writeFileSync(join(folder, 'shift'), PASSWORD, { mode: 0o600 });
  writeFileSync(
    join(folder, 'works.yaml'),
    `site: works
modbus: { listen: "127.0.0.1:${ports.modbus}", staleMs: 25000, slots: { pump-1: 1, fan-1: 2 } }
opcua:
  listen: "127.0.0.1:${ports.opcua}"
  users: [{ name: shift, passwordFile: shift, role: operator }]
motors:
  pump-1:
    drive: { heartbeatMs: 1000 }
    positions: { de: { intervalMs: 1000 } }
    alarms: { run-state-lost: { onDelayMs: 0 } }
  fan-1:
    drive: { runState: none }
    positions: { de: { intervalMs: 1000 } }
`,
  );
  gateway = await startGatewayProcess({
    configFile: join(folder, 'works.yaml'),
    dataDir: join(folder, 'data'),
  });
  client = await mqtt.connectAsync(`mqtt://127.0.0.1:${gateway.mqttPort}`);
});
afterAll(async () => {
  await client.endAsync(true);
  await gateway.stop();
  rmSync(folder, { recursive: true, force: true });
});

function readRegisters(address: number, count: number): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const socket = connect(ports.modbus, '127.0.0.1');
    socket.on('error', reject);
    socket.once('data', (answer: Buffer) => {
      socket.destroy();
      resolve(answer.subarray(9));
    });
    socket.write(writeFrame(1, 1, Buffer.from([3, address >> 8, address & 255, 0, count])));
  });
}

async function readRate(): Promise<[value: number, quality: number]> {
  const registers = await readRegisters(RATE, QUALITY - RATE + 1);
  return [registers.readUInt32BE(0), registers.readUInt16BE(2 * (QUALITY - RATE))];
}

async function until<T>(what: string, found: () => Promise<T | null>, patienceMs = 90_000): Promise<T> {
  for (const end = Date.now() + patienceMs; ; await sleep(250)) {
    const value = await found().catch(() => null);
    if (value !== null) return value;
    if (Date.now() > end) throw new Error(`not within ${patienceMs} ms: ${what}\n${gateway.child.said()}`);
  }
}

const publishReading = (seq: number, at: number): Promise<unknown> => {
  const body = { device: 'SN-1', boot: 1, seq, count: 2 * seq, at };
  return client.publishAsync('works/in/fan-1/de/reading', JSON.stringify(body), { qos: 1 });
};

async function ask<T>(path: string): Promise<T> {
  return (await (await fetch(`${gateway.http}/api/v1/${path}`)).json()) as T;
}

function openPanel(): Promise<Hmi> {
  const login = { user: 'shift', password: PASSWORD };
  return connectHmi({ port: ports.opcua, login, isSecured: true, folder: join(folder, 'panel') });
}

/** By the command, as a person would: the certificate of the panel that was turned away. */
async function acceptPanel(): Promise<true | null> {
  await openPanel().catch(() => undefined);
  const command = ['opcua', 'certificates'];
  const data = ['--data', join(folder, 'data')];
  const { out } = await runTallypost([...command, 'list', ...data, '--json']);
  const all = JSON.parse(out) as { state: string; thumbprint: string }[];
  const rejected = all.find(({ state }) => state === 'rejected');
  if (rejected === undefined) return null;
  const accepted = await runTallypost([...command, 'accept', rejected.thumbprint.slice(0, 10), ...data]);
  expect(accepted).toMatchObject({ code: 0, out: expect.stringContaining('is accepted: urn:') as string });
  return true;
}

/** The process of the OPC UA server: a child of the gateway. */
function findServer(): number | null {
  for (const pid of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
    try {
      const parent = Number(
        readFileSync(`/proc/${pid}/stat`, 'utf8')
          .replace(/^.*\) /, '')
          .split(' ')[1],
      );
      const isOurs = parent === gateway.child.pid;
      if (isOurs && readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes('opcua-process'))
        return Number(pid);
    } catch {
      // gone meanwhile
    }
  }
  return null;
}

it('a reading becomes a register within seconds, and unknown when no more come', async () => {
  await until('Modbus listens', () => readRegisters(0, 2));
  const now = Date.now();
  for (let seq = 0; seq <= 40; seq++) await publishReading(seq, now - (40 - seq) * 1_000);
  const [value, quality] = await until('a rate', async () => {
    const read = await readRate();
    return read[0] === UNKNOWN ? null : read;
  });
  expect(value).toBe(12_000);
  // nobody says whether it runs, so the rate is uncertain
  expect(quality).toBe(2);
  await until('unknown again', async () => ((await readRate())[0] === UNKNOWN ? true : null));
  expect((await readRate())[1]).toBe(3);
});

it('an acknowledgement on a panel stands in the journal under the name of its login', async () => {
  const state = { state: 'running', at: Date.now(), since: Date.now() - 60_000 };
  await client.publishAsync('works/in/pump-1/drive/state', JSON.stringify(state), { qos: 1 });
  await until('the alarm', async () => {
    const alarm = await ask<{ state: string }>(`alarms/${ALARM}`);
    return alarm.state === 'unacknowledged' ? true : null;
  });
  await until('a certificate to accept', acceptPanel);
  const hmi = await until('OPC UA', () => openPanel());
  const node = `alarm/${ALARM}`;
  const event = await until('the condition', async () => {
    const active = await hmi.read(`${node}-ActiveState-Id`);
    return active.value.value === true ? ((await hmi.read(`${node}-EventId`)).value.value as Buffer) : null;
  });
  const status = await hmi.session.acknowledgeCondition(resolveNodeId(hmi.node(node)), event, 'on my way');
  expect(status).toBe(StatusCodes.Good);
  const again = await hmi.session.acknowledgeCondition(resolveNodeId(hmi.node(node)), event, 'twice');
  expect(again.isGood()).toBe(false);
  await until('acknowledged on the panel', async () =>
    (await hmi.read(`${node}-AckedState-Id`)).value.value === true ? true : null,
  );
  await hmi.close();
  const journal = await ask<{ journal: { subject: string; what: string; who: string }[] }>(
    'journal?limit=500',
  );
  expect(
    journal.journal.filter(({ subject, what }) => subject === ALARM && what === 'acknowledged'),
  ).toMatchObject([{ who: 'shift' }]);
});

it('a server that is killed is started again, and intake does not notice', async () => {
  const first = await until('its process', () => Promise.resolve(findServer()));
  const takenMs: number[] = [];
  const begin = Date.now();
  let killed = false;
  for (let seq = 100; Date.now() - begin < 4_000; seq++) {
    const sentAt = performance.now();
    await publishReading(seq, Date.now());
    takenMs.push(performance.now() - sentAt);
    if (!killed && Date.now() - begin > 1_000) {
      process.kill(first, 'SIGKILL');
      killed = true;
    }
    await sleep(5);
  }
  expect(killed).toBe(true);
  expect(takenMs.length).toBeGreaterThan(50);
  expect(Math.max(...takenMs)).toBeLessThan(2_000);
  const second = await until('another process', () => {
    const found = findServer();
    return Promise.resolve(found === first ? null : found);
  });
  expect(second).not.toBe(first);
  const hmi = await until('OPC UA again', () => openPanel());
  expect((await hmi.read(`alarm/${ALARM}-AckedState-Id`)).value.value).toBe(true);
  await hmi.close();
  expect(gateway.child.said()).toContain('OPC UA does not serve');
  const { quarantine } = await ask<{ quarantine: unknown[] }>('quarantine');
  expect(quarantine).toEqual([]);
});

it('a change of the configuration that they have no part in cuts no master and no panel, and shows in the revision', async () => {
  const socket = connect(ports.modbus, '127.0.0.1');
  let isCut = false;
  socket.on('close', () => (isCut = true));
  const readRevision = (): Promise<number> =>
    new Promise((resolve, reject) => {
      socket.once('error', reject);
      socket.once('data', (answer: Buffer) => resolve(answer.readUInt32BE(9)));
      socket.write(writeFrame(1, 1, Buffer.from([3, 0, 12, 0, 2])));
    });
  const hmi = await until('OPC UA', () => openPanel());
  const [before, server] = [await readRevision(), findServer()];
  expect((await hmi.read('gateway/configuration')).value.value).toMatch(
    new RegExp(`^${before.toString(16).padStart(8, '0')}`),
  );
  const file = join(folder, 'works.yaml');
  const more = `notify:\n  mail: { host: 127.0.0.1, from: gateway@works.test }\n  routes: { day: { email: [shift@works.test] } }\n`;
  writeFileSync(file, readFileSync(file, 'utf8') + more);
  gateway.child.process.kill('SIGHUP');
  const after = await until('another revision', async () => {
    const found = await readRevision();
    return found === before ? null : found;
  });
  const word = new RegExp(`^${after.toString(16).padStart(8, '0')}`);
  await until('the same over OPC UA', async () => {
    const { value } = await hmi.read('gateway/configuration');
    return word.test(String(value.value)) ? true : null;
  });
  expect([isCut, findServer()]).toEqual([false, server]);
  await hmi.close();
  socket.destroy();
});
