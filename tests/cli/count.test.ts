/** `tallypost count`: from a store, and live through a gateway. */
import { rmSync } from 'node:fs';
import mqtt from 'mqtt';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { countSchema } from '../../shared/counts.js';
import { startStation } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { BEGIN, type LittlePlant, makeLittlePlant } from './little-plant.js';
import { runTallypost } from './recorder.js';

const SENSOR = ['--sensor', 'pump-1/de'];
let plant: LittlePlant;
beforeAll(async () => {
  plant = makeLittlePlant();
  const { code, err } = await runTallypost(
    ...['replay', '--config', plant.config, '--data', plant.dataDir, '--proof', 'no', plant.capture],
  );
  if (code !== 0) throw new Error(err);
});
afterAll(() => rmSync(plant.folder, { recursive: true, force: true }));

const count = (...options: string[]) => runTallypost('count', '--data', plant.dataDir, ...SENSOR, ...options);
const at = (minutes: number, seconds = 0) =>
  new Date(BEGIN + minutes * 60_000 + seconds * 1_000).toISOString();

describe('of the past', () => {
  it('tells pulses, time, classes, run state, rate and what to compare with, in 100 columns', async () => {
    const { code, out } = await count('--from', at(10), '--for', '60s');
    expect(code).toBe(0);
    expect(out).toMatch(
      /^pump-1\/de\nasked {6}2026-03-02T06:10:00\.000Z to 2026-03-02T06:11:00\.000Z, 60\.0 s\n/,
    );
    expect(out).toContain('90 in 6 increments');
    expect(out).toMatch(/running {4}90 per minute \(/);
    expect(out).toMatch(/running {6,}90 +60\.0 s\n/);
    expect(out.replaceAll(/\s+/g, ' ')).toContain(
      'A portable counter held at the same place for the same 60 s',
    );
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(100);
  });

  it.each([
    ['two marks', ['--from', at(10), '--to', at(12)], 180, 120_000],
    ['a length up to a mark', ['--to', at(12), '--for', '2min'], 180, 120_000],
    ['a mark alone', ['--from', at(10)], 90, 60_000],
    ['nothing: the newest minute that is classified', [], 90, 60_000],
    ['marks between readings', ['--from', at(10, 5), '--to', at(11, 5)], 90, 60_000],
    ['the start of the motor', ['--from', at(1), '--for', '3min'], 180, 180_000],
  ])('with %s', async (_, options, pulses, ms) => {
    const { code, out } = await count('--json', ...options);
    expect(code).toBe(0);
    expect(countSchema.parse(JSON.parse(out))).toMatchObject({ pulses, covered: { ms }, settled: true });
  });

  it('the configuration supplies dead time and heartbeat', async () => {
    const { out } = await count('--config', plant.config, '--from', at(1), '--for', '3min', '--json');
    const states = countSchema.parse(JSON.parse(out)).run_states.map(({ state }) => state);
    expect(states).toEqual(['stopped', 'starting', 'running']);
  });

  it('nothing counted is told, exit 1', async () => {
    const { code, out } = await count('--from', at(-60), '--for', '60s');
    expect(code).toBe(1);
    expect(out).toContain('that is not zero');
  });

  it.each([
    [['--for', '60'], 'no length of time'],
    [['--for', '8d'], '--for must be 1 s to 7 d'],
    [['--from', at(1), '--to', at(2), '--for', '60s'], 'one too many'],
    [['--from', at(2), '--to', at(1)], '--from must lie before --to'],
    [['--from', at(0), '--to', at(60 * 24 * 9)], '7 days at most'],
    [['--http', '127.0.0.1:1'], '--http is for --live'],
    [['--live', '--from', at(1)], '--from does not go with --live'],
    [['--live', '--for', '5s'], '--for must be 10 s to 10 min'],
    [['--live'], 'No gateway is known'],
  ])('%j is refused: %s', async (options, says) => {
    const { code, err } = await count(...options);
    expect(code).toBe(2);
    expect(err).toContain(says);
  });

  it('of a sensor without readings fails, of a name that is none is refused', async () => {
    const other = await runTallypost('count', '--data', plant.dataDir, '--sensor', 'pump-2/de');
    expect([other.code, other.err]).toEqual([3, expect.stringContaining('no increments of pump-2/de')]);
    const odd = await runTallypost('count', '--data', plant.dataDir, '--sensor', 'pump-1');
    expect([odd.code, odd.err]).toEqual([2, expect.stringContaining('MOTOR/POSITION')]);
  });
});

describe('live', () => {
  it('counts what comes in from then on, and answers when the end is classified', async () => {
    const live = makeLittlePlant();
    const loaded = loadConfig(live.config);
    if (!loaded.ok) throw new Error('the configuration of the test is wrong');
    const any = { host: '127.0.0.1', port: 0 };
    const log = pino({ level: 'silent' });
    const station = await startStation({ ...loaded, dataDir: live.dataDir, mqtt: any, http: any, log });
    const client = await mqtt.connectAsync(station.mqtt);
    let seq = 0;
    const publish = async (): Promise<void> => {
      const now = Date.now();
      const state = { state: 'running', at: now, since: BEGIN, speed_rpm: 1480 };
      const reading = { device: 'SN-1', boot: 1, seq, count: 5 * seq, at: now };
      seq += 1;
      await client.publishAsync('workshop/in/pump-1/drive/state', JSON.stringify(state), {
        qos: 1,
        retain: true,
      });
      await client.publishAsync('workshop/in/pump-1/de/reading', JSON.stringify(reading), { qos: 1 });
    };
    await publish();
    const feed = setInterval(() => void publish(), 1_000);
    try {
      const address = ['--http', station.http.replace('http://', '')];
      const { code, out, err } = await runTallypost(
        'count',
        ...SENSOR,
        '--live',
        '--for',
        '10s',
        ...address,
        '--json',
      );
      expect([code, err]).toEqual([0, '']);
      const found = countSchema.parse(JSON.parse(out));
      expect(found.settled).toBe(true);
      expect(found.asked.ms).toBe(10_000);
      // five pulses with each reading, about one a second; a busy machine sends some late, never more
      expect(found.pulses).toBe(5 * found.increments);
      expect(found.increments).toBeGreaterThanOrEqual(5);
      expect(found.increments).toBeLessThanOrEqual(11);
      expect(found.condition.speed_rpm?.mean).toBe(1480);
      const strange = await runTallypost('count', '--sensor', 'pump-1/nde', '--live', ...address);
      expect([strange.code, strange.err]).toEqual([3, expect.stringContaining('no sensor "pump-1/nde"')]);
    } finally {
      clearInterval(feed);
      await client.endAsync(true);
      await station.stop();
      rmSync(live.folder, { recursive: true, force: true });
    }
  });
});
