import { afterEach, describe, expect, it } from 'vitest';
import { generate } from 'mqtt-packet';
import mqtt, { type MqttClient } from 'mqtt';
import { FrameFlag } from '../../src/engine/frame-reader.js';
import { pause, startBrokerRig, until, type BrokerRig } from './broker-rig.js';

const READING = 'workshop/in/pump-1/de/reading';
const STATE = 'workshop/in/pump-1/drive/state';
const LOGINS = [
  { name: 'sensor', password: 'one', role: 'device', sensors: ['pump-1/de'], motors: [] },
  { name: 'panel', password: 'two', role: 'drive', sensors: [], motors: ['pump-1'] },
  { name: 'screen', password: 'three', role: 'reader', sensors: [], motors: [] },
] as const;

let rig: BrokerRig;
afterEach(() => rig.stop());

/** Connects again under a kept session, with an ear open before the first message can come. */
async function mqttLater(into: BrokerRig, heard: string[]): Promise<MqttClient> {
  const url = `mqtt://127.0.0.1:${into.intake.port}`;
  const client = mqtt.connect(url, { clientId: 'historian', clean: false, reconnectPeriod: 0 });
  client.on('message', (_topic, payload) => heard.push(payload.toString()));
  await new Promise((resolve) => client.once('connect', resolve));
  return client;
}

function listen(client: MqttClient): string[] {
  const heard: string[] = [];
  client.on('message', (topic, payload, packet) =>
    heard.push(`${topic} ${payload.toString()}${packet.retain ? ' retained' : ''}`),
  );
  return heard;
}

describe('with logins', () => {
  const login = (username: string, password: string) => ({ username, password });

  it('a wrong password and an unknown name are refused alike', async () => {
    rig = await startBrokerRig({ logins: LOGINS });
    for (const options of [login('sensor', 'two'), login('nobody', 'one'), {}]) {
      await expect(rig.connect(options)).rejects.toThrow(/Bad username or password/);
    }
  });

  it.each([
    ['sensor', 'one', READING, true],
    ['sensor', 'one', 'workshop/in/pump-1/de/presence', true],
    ['sensor', 'one', 'workshop/in/pump-1/nde/reading', false],
    ['sensor', 'one', STATE, false],
    ['sensor', 'one', 'workshop/out/journal', false],
    ['panel', 'two', STATE, true],
    ['panel', 'two', 'workshop/in/pump-1/drive/presence', true],
    ['panel', 'two', 'workshop/in/pump-2/drive/state', false],
    ['panel', 'two', READING, false],
    ['screen', 'three', READING, false],
    ['screen', 'three', 'workshop/out/gateway/presence', false],
  ])('%s publishing to %s %s: allowed is %s', async (name, password, topic, isAllowed) => {
    rig = await startBrokerRig({ logins: LOGINS });
    rig.isSettling = true;
    const client = await rig.connect(login(name, password));
    await client.publishAsync(topic, 'x', { qos: 1 });
    expect(rig.frames).toHaveLength(1);
    expect((rig.frames[0]!.flags & FrameFlag.denied) === 0).toBe(isAllowed);
  });

  it('what is denied is acknowledged, logged once, and reaches nobody, retained or not', async () => {
    rig = await startBrokerRig({ logins: LOGINS });
    rig.isSettling = true;
    rig.rejected = [0];
    const screen = await rig.connect(login('screen', 'three'));
    const heard = listen(screen);
    await screen.subscribeAsync('workshop/#', { qos: 1 });
    const sensor = await rig.connect(login('sensor', 'one'));
    for (let i = 0; i < 5; i++)
      await sensor.publishAsync('workshop/out/journal', 'forged', { qos: 1, retain: true });
    await pause(50);
    expect(heard).toEqual([]);
    expect(rig.warnings.filter(({ text }) => text === 'a client published where it may not')).toHaveLength(1);
    expect(rig.intake.figures().denied).toBe(5);
  });

  it('only readers subscribe, and only to the site', async () => {
    rig = await startBrokerRig({ logins: LOGINS });
    const ask = async (name: string, password: string, filter: string): Promise<number | undefined> => {
      const client = await rig.connect(login(name, password));
      const answer = await client.subscribeAsync(filter, { qos: 1 }).catch(() => [{ qos: 128 }]);
      return answer[0]?.qos;
    };
    expect(await ask('screen', 'three', 'workshop/#')).toBe(1);
    expect(await ask('screen', 'three', '#')).toBe(1);
    expect(await ask('screen', 'three', 'elsewhere/#')).toBe(128);
    expect(await ask('screen', 'three', '$SYS/#')).toBe(128);
    expect(await ask('sensor', 'one', 'workshop/#')).toBe(128);
    expect(await ask('panel', 'two', READING)).toBe(128);
  });

  it('other logins cut the sessions whose login is gone or changed, and no others', async () => {
    rig = await startBrokerRig({ logins: LOGINS });
    const sensor = await rig.connect(login('sensor', 'one'));
    const panel = await rig.connect(login('panel', 'two'));
    const screen = await rig.connect(login('screen', 'three'));
    rig.intake.setLogins([LOGINS[0], { ...LOGINS[1], motors: ['pump-2'] }]);
    await until('cut', () => !panel.connected && !screen.connected);
    expect(sensor.connected).toBe(true);
  });
});

describe('a session that is kept', () => {
  const kept = (clientId: string) => ({ clientId, clean: false });

  it('may publish, but subscribes only from the list', async () => {
    rig = await startBrokerRig({ persistentClients: ['historian'] });
    rig.isSettling = true;
    const sensor = await rig.connect(kept('sensor'));
    await sensor.publishAsync(READING, 'x', { qos: 1 });
    const refused = await sensor.subscribeAsync('workshop/#', { qos: 1 }).catch(() => [{ qos: 128 }]);
    expect(refused[0]?.qos).toBe(128);
    const historian = await rig.connect(kept('historian'));
    expect((await historian.subscribeAsync('workshop/out/#', { qos: 1 }))[0]?.qos).toBe(1);
    await historian.endAsync();
    rig.intake.publish([{ topic: 'workshop/out/journal', payload: 'meanwhile', retain: false }]);
    await pause(50);
    const heard: string[] = [];
    const again = await mqttLater(rig, heard);
    await until('heard', () => heard.includes('meanwhile'));
    again.end(true);
  });
});

it('the queue of a kept session is bounded', async () => {
  rig = await startBrokerRig({ persistentClients: ['historian'] });
  const historian = await rig.connect({ clientId: 'historian', clean: false });
  await historian.subscribeAsync('workshop/out/#', { qos: 1 });
  await historian.endAsync();
  const topic = 'workshop/out/journal';
  rig.intake.publish(
    Array.from({ length: 10_050 }, (_, i) => ({ topic, payload: String(i), retain: false })),
  );
  await until('published', () => rig.intake.figures().publicationsUnderWay === 0, 20_000);
  expect(rig.warnings.map(({ text }) => text)).toContain(
    'the queue of a kept session is full: messages are left out',
  );
  const heard: string[] = [];
  const again = mqttLater(rig, heard);
  await until('heard', () => heard.length >= 10_000, 30_000);
  (await again).end(true);
  expect(heard).toHaveLength(10_000);
});

describe('a subscriber', () => {
  it('hears messages from the field only once they are committed', async () => {
    rig = await startBrokerRig();
    const reader = await rig.connect();
    const heard = listen(reader);
    await reader.subscribeAsync('workshop/in/#', { qos: 1 });
    expect(rig.interest).toEqual({ inbound: true, outbound: false });
    const sensor = await rig.connect();
    const publish = sensor.publishAsync(READING, 'x', { qos: 1 });
    await pause(100);
    expect(heard).toEqual([]);
    rig.settleAll();
    await publish;
    await until('heard', () => heard.length === 1);
    expect(heard).toEqual([`${READING} x`]);
    await reader.unsubscribeAsync('workshop/in/#');
    expect(rig.interest).toEqual({ inbound: false, outbound: false });
  });

  it('finds what is retained, also from a client that is long gone', async () => {
    rig = await startBrokerRig();
    const drive = await rig.connect();
    drive.publish(STATE, 'running', { qos: 0, retain: true });
    await until('submitted', () => rig.frames.length === 1);
    drive.end(true);
    await pause(50);
    rig.settleAll();
    const reader = await rig.connect();
    const heard = listen(reader);
    await reader.subscribeAsync('#', { qos: 1 });
    await until('heard', () => heard.length === 1);
    expect(heard).toEqual([`${STATE} running retained`]);
  });

  it('hears everything, in order, retained or not, of QoS 0 or 1', async () => {
    rig = await startBrokerRig();
    rig.isSettling = true;
    const reader = await rig.connect();
    const heard: number[] = [];
    reader.on('message', (_topic, payload) => heard.push(Number(payload.toString())));
    await reader.subscribeAsync('workshop/#', { qos: 1 });
    const wanted = Array.from({ length: 3_000 }, (_, i) => i);
    rig.intake.publish(
      wanted.map((i) => ({ topic: `workshop/out/${i % 7}`, payload: String(i), retain: i % 3 === 0 })),
    );
    await until('heard', () => heard.length >= wanted.length);
    expect(heard).toEqual(wanted);
    heard.length = 0;
    const sensor = await rig.connect();
    for (let i = 0; i < 200; i++) {
      sensor.publish(READING, String(i), { qos: i % 2 === 0 ? 0 : 1, retain: i % 5 === 0 }, () => undefined);
    }
    await until('heard', () => heard.length >= 200);
    // MQTT orders messages of one QoS among themselves
    for (const rest of [0, 1]) {
      expect(heard.filter((i) => i % 2 === rest)).toEqual(wanted.slice(0, 200).filter((i) => i % 2 === rest));
    }
  });

  it('that reads nothing delays neither senders nor acknowledgements, and is cut', async () => {
    rig = await startBrokerRig({ limits: { drainTimeoutMs: 3_000 } });
    rig.isSettling = true;
    const frozen = await rig.socket();
    frozen.write(
      Buffer.concat([
        generate({
          cmd: 'connect',
          clientId: 'frozen',
          protocolId: 'MQTT',
          protocolVersion: 4,
          clean: true,
          keepalive: 0,
        }),
        generate({ cmd: 'subscribe', messageId: 1, subscriptions: [{ topic: 'workshop/#', qos: 1 }] }),
      ]),
    );
    frozen.pause();
    await until('subscribed', () => rig.interest.inbound);
    const sensor = await rig.connect();
    const payload = 'x'.repeat(2_000);
    const waits: number[] = [];
    const end = performance.now() + 6_000;
    while (performance.now() < end) {
      const begin = performance.now();
      await Promise.all(Array.from({ length: 50 }, () => sensor.publishAsync(READING, payload, { qos: 1 })));
      waits.push(performance.now() - begin);
      if (rig.warnings.some(({ text }) => text.includes('cut')) || rig.intake.figures().clients === 1) break;
    }
    // the word that it is cut comes a moment before its socket is closed
    await until('gone', () => rig.intake.figures().clients === 1, 1_000);
    expect(Math.max(...waits)).toBeLessThan(1_000);
    await sensor.publishAsync(READING, 'after', { qos: 1 });
  }, 20_000);
});
