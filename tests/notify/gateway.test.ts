/** The whole gateway as a process: an alarm becomes a letter, over a kill and a restart too. Needs the build. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { notificationSchema } from '../../shared/notification.js';
import { notifyBody } from '../../src/api/routes/notify.js';
import { runTallypost, startGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { sleep } from '../support/child.js';
import { openMailbox, type Letter, type Mailbox } from './mailbox.js';
import { openReceiver, type Receiver } from './receiver.js';

const INTERVAL_MS = 300;
const SHIFT = 'shift@works.example';
const BOSS = 'boss@works.example';

let folder: string;
let mailbox: Mailbox;
let receiver: Receiver;
let gateway: GatewayProcess | null = null;
let pumps: Pumps | null = null;

/** Sensors that report, all but those that are told to be silent. */
class Pumps {
  readonly silent = new Set<number>();
  readonly #client: MqttClient;
  readonly #timer: NodeJS.Timeout;
  #seq = 0;

  constructor(port: number) {
    this.#client = mqtt.connect(`mqtt://127.0.0.1:${port}`, { reconnectPeriod: 100, queueQoSZero: false });
    this.#client.on('error', () => undefined);
    this.#timer = setInterval(() => this.#report(), INTERVAL_MS);
  }

  #report(): void {
    this.#seq += 1;
    if (!this.#client.connected) return;
    for (const n of [1, 2, 3, 4]) {
      if (this.silent.has(n)) continue;
      const reading = { device: `SN-${n}`, boot: 1, seq: this.#seq, count: this.#seq, at: Date.now() };
      this.#client.publish(`works/in/pump-${n}/de/reading`, JSON.stringify(reading), { qos: 1 });
    }
  }

  stop(): void {
    clearInterval(this.#timer);
    this.#client.end(true);
  }
}

function configure(notify: string): string {
  const file = join(folder, 'works.yaml');
  const alarms =
    '{ no-readings: { onDelayMs: 1500, offDelayMs: 200, timeToRespondMs: null, action: Look at the sensor. }, counter-unknown: false, clock-off: false }';
  // told to be longer than they are: on a busy machine all pumps may stand still for some seconds, and none must seem silent for it;
  // a zone for each, so that the gateway need not wait for others to fall silent with it
  const settings = `drive: { runState: none }\n    positions: { de: { intervalMs: 1500 } }\n    alarms: ${alarms}\n`;
  const motors = [1, 2, 3, 4].map((n) => `  pump-${n}:\n    zone: room-${n}\n    ${settings}`).join('');
  writeFileSync(file, `site: works\ntimeZone: Europe/London\nmotors:\n${motors}${notify}`);
  return file;
}

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-notify-'));
  mailbox = await openMailbox();
  receiver = await openReceiver();
});
afterEach(async () => {
  pumps?.stop();
  gateway?.child.process.kill('SIGKILL');
  await gateway?.child.ended;
  gateway = null;
  await mailbox.kill();
  await receiver.close();
  rmSync(folder, { recursive: true, force: true });
});

function notify(respondMs: number): string {
  return [
    'notify:',
    '  waitMs: 2500',
    `  respondMs: { low: ${respondMs} }`,
    `  mail: { host: 127.0.0.1, port: ${mailbox.port}, security: none, from: tallypost@works.example }`,
    `  webhooks: { desk: { url: "${receiver.url}", secretEnv: DESK_SECRET } }`,
    '  routes:',
    `    shift: { email: [${SHIFT}], webhook: desk, escalateTo: boss }`,
    `    boss: { email: [${BOSS}], onlyEscalated: true }`,
    '',
  ].join('\n');
}

async function run(configFile: string, ports?: { mqtt: number; http: number }): Promise<GatewayProcess> {
  gateway = await startGatewayProcess({
    ...{ configFile, dataDir: join(folder, 'data'), env: { DESK_SECRET: 'a secret of the tests' } },
    ...(ports === undefined ? {} : { ports }),
  });
  return gateway;
}

async function until(holds: () => boolean | Promise<boolean>): Promise<void> {
  const end = Date.now() + 60_000;
  while (!(await holds())) {
    if (Date.now() > end)
      throw new Error(`it did not come true in time; the gateway says:\n${gateway?.child.said()}`);
    await sleep(20);
  }
}

function lettersTo(address: string): Letter[] {
  return mailbox.letters().filter(({ to }) => to.includes(address));
}

async function isRaised(alarm: string): Promise<boolean> {
  const response = await fetch(`${gateway!.http}/api/v1/alarms?state=open`);
  const { alarms } = (await response.json()) as { alarms: { id: string; active: boolean }[] };
  return alarms.some(({ id, active }) => id === alarm && active);
}

describe('the gateway', { timeout: 240_000 }, () => {
  it('tells an alarm by e-mail and webhook, and escalates it when nobody acknowledges', async () => {
    const { http, mqttPort } = await run(configure(notify(3_000)));
    pumps = new Pumps(mqttPort);
    await sleep(1_500);
    pumps.silent.add(1);
    await until(() => lettersTo(SHIFT).length > 0);
    const [letter] = lettersTo(SHIFT);
    expect(letter?.subject).toBe('[works] low alarm: pump-1 de, no-readings');
    expect(letter?.text).toContain('What to do: Look at the sensor.');
    expect(letter?.text).toContain('Caution: The shaft turns');
    expect(letter?.text).toContain('Never use this message as an interlock');
    await receiver.until(1);
    const told = notificationSchema.parse(JSON.parse(receiver.got[0]!.body.toString('utf8')));
    expect(told.alarms.map(({ id, change }) => `${id} ${change}`)).toEqual(['pump-1.de-no-readings raised']);
    await until(() => lettersTo(BOSS).length > 0);
    expect(lettersTo(BOSS)[0]?.subject).toBe('[works] NOT ACKNOWLEDGED: low alarm, pump-1 de, no-readings');

    const body = notifyBody.parse(await (await fetch(`${http}/api/v1/notify`)).json());
    expect(body.channels.map(({ channel, state }) => [channel, state])).toEqual([
      ['email', 'working'],
      ['webhook:desk', 'working'],
    ]);
    expect(await (await fetch(`${http}/metrics`)).text()).toMatch(
      /tallypost_notify_messages_sent_total\{channel="email"\} 2/,
    );
    const data = ['--data', join(folder, 'data')];
    expect((await runTallypost(['notify', 'test', 'boss', ...data])).out).toContain('route boss works');
    expect((await runTallypost(['notify', 'status', ...data])).out).toMatch(/email +working/);
    expect((await runTallypost(['notify', 'test', 'chief', ...data])).err).toContain(
      'There are: shift, boss.',
    );
  });

  it('killed and started again tells only what changed meanwhile, in one message', async () => {
    const configFile = configure(notify(600_000));
    const { http, mqttPort, httpPort, child } = await run(configFile);
    pumps = new Pumps(mqttPort);
    await sleep(1_500);
    pumps.silent.add(1);
    await until(() => lettersTo(SHIFT).length > 0 && receiver.got.length > 0);
    await until(async () => {
      const body = notifyBody.parse(await (await fetch(`${http}/api/v1/notify`)).json());
      return body.channels.every(({ waiting }) => waiting === 0);
    });
    pumps.silent.add(2);
    await until(() => isRaised('pump-2.de-no-readings'));
    child.process.kill('SIGKILL');
    await child.ended;
    expect(lettersTo(SHIFT)).toHaveLength(1);
    await run(configFile, { mqtt: mqttPort, http: httpPort });
    await until(() => lettersTo(SHIFT).length > 1);
    await sleep(3_500);
    const after = lettersTo(SHIFT).slice(1);
    expect(after.filter(({ text }) => text.includes('pump-2'))).toHaveLength(1);
    expect(after.filter(({ text }) => text.includes('pump-1'))).toEqual([]);
    expect(lettersTo(BOSS)).toEqual([]);
  });
});

describe('tallypost notify test without a gateway', () => {
  it('sends from here, and says what is wrong in plain words', async () => {
    const file = configure(
      `notify:\n  mail: { host: 127.0.0.1, port: ${mailbox.port}, security: none, from: t@works.example }\n` +
        `  routes: { shift: { email: [${SHIFT}] } }\n`,
    );
    const good = await runTallypost(['notify', 'test', 'shift', '--config', file]);
    expect([good.code, good.out.split('\n')[0]]).toEqual([0, 'route shift works']);
    expect(mailbox.letters()[0]?.subject).toBe('[works] test of notification route shift');
    await mailbox.kill();
    const bad = await runTallypost(['notify', 'test', 'shift', '--config', file]);
    expect(bad.code).toBe(1);
    expect(bad.out).toContain('route shift does not work');
    expect(bad.out).toContain('ECONNREFUSED');
    const unknown = await runTallypost(['notify', 'test', 'day', '--config', file]);
    expect([unknown.code, unknown.err.includes('It has shift.')]).toEqual([2, true]);
  });

  it('a secret that is not there is said before anything starts', async () => {
    const { code, err } = await runTallypost([
      ...['run', '--config', configure(notify(3_000)), '--data', join(folder, 'data')],
      ...['--mqtt', '127.0.0.1:0', '--http', '127.0.0.1:0'],
    ]);
    expect(code).toBe(3);
    expect(err).toContain('notify.webhooks.desk: environment variable DESK_SECRET is not set or empty');
  });
});
