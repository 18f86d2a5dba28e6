import { afterEach, describe, expect, it } from 'vitest';
import type { ClockSources } from '../../src/engine/clock.js';
import { READING_TOPIC, reading, startRig, waitFor, type Rig } from '../engine/gateway-rig.js';
import { publish, run, type Running } from './mosquitto.js';

const STATE = 'workshop/in/pump-1/drive/state';
const PRESENCE = 'workshop/in/pump-1/drive/presence';
let rig: Rig;
const running: Running[] = [];
afterEach(async () => {
  await Promise.all(running.splice(0).map((program) => program.stop('SIGKILL')));
  await rig.stop();
});

function listen(args: readonly string[]): Running {
  const program = run('mosquitto_sub', rig.gateway.mqttPort, ['-v', '-q', '1', ...args]);
  running.push(program);
  return program;
}

function storedCounts(): number[] {
  const store = rig.reader();
  const rows = [...store.increments({ sensor: null, from: null, to: null })].flat();
  store.close();
  return rows.map((row) => row.count);
}

describe('mosquitto_pub', () => {
  it('has its readings stored, in order, when it ends without an error', async () => {
    rig = await startRig();
    const lines = Array.from({ length: 200 }, (_, i) => reading(i, i * 3)).join('\n');
    const done = await publish(
      rig.gateway.mqttPort,
      ['-q', '1', '-i', 'sn-1', '-t', READING_TOPIC, '-l'],
      `${lines}\n`,
    );
    expect(done).toMatchObject({ code: 0, err: '' });
    expect(storedCounts()).toEqual(Array.from({ length: 200 }, (_, i) => i * 3));
    expect(rig.gateway.figures().intake).toMatchObject({ received: 200, acknowledged: 200 });
  });

  it.each(['0', '2'])('with QoS %s is taken as well', async (qos) => {
    rig = await startRig();
    const done = await publish(rig.gateway.mqttPort, ['-q', qos, '-t', READING_TOPIC, '-m', reading(1, 42)]);
    expect(done.code).toBe(0);
    await waitFor('stored', () => storedCounts().length === 1);
  });

  it('sending nonsense is acknowledged, and the nonsense quarantined with its reason', async () => {
    rig = await startRig();
    const done = await publish(rig.gateway.mqttPort, [
      '-q',
      '1',
      '-i',
      'meter',
      '-t',
      READING_TOPIC,
      '-m',
      'no json',
    ]);
    expect(done.code).toBe(0);
    const store = rig.reader();
    const { items } = store.quarantine({ from: null, to: null, limit: 10, cursor: null });
    store.close();
    expect(items).toHaveLength(1);
    expect(items[0]).toMatchObject({ topic: READING_TOPIC, client: 'meter', size: 7 });
    expect(items[0]!.reason).toMatch(/payload: expected JSON/);
    expect(Buffer.from(items[0]!.firstBytes).toString()).toBe('no json');
  });

  it('with a wrong password is refused, with a right one stored, elsewhere quarantined', async () => {
    const yaml = `mqtt:
  users:
    - { name: sn-1, role: device, sensors: [pump-1/de], passwordFile: sn-1.secret }
`;
    rig = await startRig({ yaml, files: { 'sn-1.secret': 'open sesame\n' } });
    const login = (password: string) => ['-q', '1', '-u', 'sn-1', '-P', password];
    const port = rig.gateway.mqttPort;
    const wrong = await publish(port, [...login('guess'), '-t', READING_TOPIC, '-m', reading(1, 1)]);
    expect(wrong.code).not.toBe(0);
    expect(wrong.err).toMatch(/not authori[sz]ed|bad user name/i);
    const right = await publish(port, [...login('open sesame'), '-t', READING_TOPIC, '-m', reading(1, 1)]);
    expect(right.code).toBe(0);
    await publish(port, [
      ...login('open sesame'),
      '-t',
      'workshop/in/pump-2/de/reading',
      '-m',
      reading(1, 5),
    ]);
    expect(storedCounts()).toEqual([1]);
    const store = rig.reader();
    const { items } = store.quarantine({ from: null, to: null, limit: 10, cursor: null });
    store.close();
    expect(items.map(({ reason }) => reason)).toEqual([expect.stringMatching(/^not authorised/)]);
  });
});

describe('mosquitto_sub', () => {
  it('finds retained states, and hears live ones', async () => {
    rig = await startRig();
    const port = rig.gateway.mqttPort;
    const running1 = JSON.stringify({ state: 'running', at: Date.now() });
    await publish(port, ['-q', '1', '-r', '-t', STATE, '-m', running1]);
    const screen = listen(['-t', 'workshop/in/#']);
    await waitFor('retained', () => screen.lines.length === 1);
    const stopped = JSON.stringify({ state: 'stopped', at: Date.now() });
    await publish(port, ['-q', '1', '-r', '-t', STATE, '-m', stopped]);
    await waitFor('live', () => screen.lines.length === 2);
    expect(screen.lines).toEqual([`${STATE} ${running1}`, `${STATE} ${stopped}`]);
  });

  it('hears the will of a drive reporter that dies, and the store keeps that it is absent', async () => {
    rig = await startRig();
    const screen = listen(['-t', PRESENCE]);
    const reporter = run('mosquitto_pub', rig.gateway.mqttPort, [
      ...['-q', '1', '-r', '-i', 'panel', '-t', PRESENCE, '-l'],
      ...['--will-topic', PRESENCE, '--will-retain', '--will-qos', '1', '--will-payload', '{"online":false}'],
    ]);
    running.push(reporter);
    await waitFor('connected', () => rig.gateway.figures().intake.clients === 2);
    await publish(rig.gateway.mqttPort, ['-q', '1', '-r', '-t', PRESENCE, '-m', '{"online":true}']);
    await reporter.stop('SIGKILL');
    await waitFor('will', () => screen.lines.length === 2);
    expect(screen.lines).toEqual([`${PRESENCE} {"online":true}`, `${PRESENCE} {"online":false}`]);
    const late = listen(['-t', PRESENCE, '-C', '1']);
    await late.done;
    expect(late.lines).toEqual([`${PRESENCE} {"online":false}`]);
  });

  it('hears what the gateway makes of readings, below out/', async () => {
    const offset = { ms: 0 };
    const clock: ClockSources = { wall: () => Date.now() + offset.ms, monotonic: () => performance.now() };
    rig = await startRig({ inline: { clock } });
    const screen = listen(['-t', 'workshop/out/#']);
    const presence = 'workshop/out/gateway/presence {"online":true,';
    await waitFor('presence', () => screen.lines.some((line) => line.startsWith(presence)));
    const port = rig.gateway.mqttPort;
    const at = Math.floor(Date.now() / 10_000) * 10_000;
    await publish(port, ['-q', '1', '-t', STATE, '-m', JSON.stringify({ state: 'running', at, since: at })]);
    for (let i = 0; i < 5; i++) {
      offset.ms += 10_000;
      await publish(port, [
        '-q',
        '1',
        '-t',
        READING_TOPIC,
        '-m',
        reading(i, i * 10, { at: at + i * 10_000 }),
      ]);
    }
    offset.ms += 120_000;
    const rate = await waitFor('rate', () => screen.lines.find((line) => line.includes('/de/rate ')), 15_000);
    expect(JSON.parse(rate.slice(rate.indexOf(' ') + 1))).toMatchObject({ sensor: 'pump-1/de' });
    await waitFor('rollups', () =>
      ['10s', '1m'].every((p) => screen.lines.some((l) => l.includes(`/de/rollup/${p} `))),
    );
  });

  it('that keeps a session is refused unless it stands on the list', async () => {
    rig = await startRig({ yaml: 'mqtt: { persistentClients: [historian] }\n' });
    const stranger = listen(['-i', 'stranger', '-c', '-t', 'workshop/out/#', '-W', '2']);
    const done = await stranger.done;
    expect(done.err).toMatch(/denied|rejected|All subscription requests were denied/i);
    const historian = listen(['-i', 'historian', '-c', '-t', 'workshop/out/#']);
    await waitFor('presence', () => historian.lines.length > 0);
  });
});

it('a client that is killed and comes back under its id goes on', async () => {
  rig = await startRig();
  const args = ['-q', '1', '-i', 'sn-1', '-t', READING_TOPIC];
  const first = run('mosquitto_pub', rig.gateway.mqttPort, [...args, '-l']);
  running.push(first);
  await waitFor('connected', () => rig.gateway.figures().intake.clients === 1);
  const second = await publish(rig.gateway.mqttPort, [...args, '-m', reading(1, 10)]);
  expect(second.code).toBe(0);
  expect(storedCounts()).toEqual([10]);
});
