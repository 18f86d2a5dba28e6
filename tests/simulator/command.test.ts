/** The command as a person types it: files come out, a broker hears it, and mistakes are explained. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { Aedes } from 'aedes';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { formatLine } from '../../simulator/capture.js';
import { runSimulator } from '../../simulator/command.js';
import { readScenario } from '../../simulator/scenario-file.js';
import { simulate } from '../../simulator/simulation.js';
import type { Truth } from '../../simulator/truth.js';

const DEMO = 'config/scenarios/tarn-hollow.yaml';
let folder: string;

beforeAll(() => (folder = mkdtempSync(join(tmpdir(), 'simulate-'))));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function type(...args: string[]): Promise<{ code: number; said: string; complained: string }> {
  const said: string[] = [];
  const complained: string[] = [];
  const code = await runSimulator(args, {
    say: (line) => said.push(line),
    complain: (line) => complained.push(line),
  });
  return { code, said: said.join('\n'), complained: complained.join('\n') };
}

describe('simulate', () => {
  test.each(['out.ndjson.gz', 'out.ndjson'])(
    'writes %s, which holds the very messages of the simulation',
    async (name) => {
      const [capture, truth, config] = [
        join(folder, name),
        join(folder, 'truth.json'),
        join(folder, 'gateway.yaml'),
      ];
      const files = ['--capture', capture, '--truth', truth, '--config', config];
      const { code, said } = await type('--scenario', DEMO, '--seed', '5', '--hours', '0.5', ...files);
      expect(code).toBe(0);
      expect(said).toContain('readings of 16 sensors in 0.5 h');
      const bytes = readFileSync(capture);
      const text = (name.endsWith('.gz') ? gunzipSync(bytes) : bytes).toString('utf8');
      const expected = simulate(readScenario(DEMO), 5, 0.5);
      expect(text).toBe(expected.messages.map((message) => `${formatLine(message)}\n`).join(''));
      expect(JSON.parse(readFileSync(truth, 'utf8')) as Truth).toEqual(
        JSON.parse(JSON.stringify(expected.truth)),
      );
      expect(readFileSync(config, 'utf8')).toContain('setpointPerMin: 120');
    },
  );

  test('begins when it is told to', async () => {
    const capture = join(folder, 'start.ndjson');
    await type(
      '--scenario',
      DEMO,
      '--seed',
      '5',
      '--hours',
      '0.1',
      '--capture',
      capture,
      '--start',
      '2026-05-01T12:00:00+02:00',
    );
    const [line = ''] = readFileSync(capture, 'utf8').split('\n');
    expect((JSON.parse(line) as { arrived: number }).arrived).toBe(Date.UTC(2026, 4, 1, 10));
  });

  test('publishes to a broker, one client a device and a reporter, and every message is acknowledged', async () => {
    const broker = await Aedes.createBroker();
    const server = createServer(broker.handle);
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const heard = new Map<string, number>();
    let wills = 0;
    broker.authorizePublish = (client, packet, done) => {
      if (packet.payload.toString().includes('"online":false')) wills += 1;
      else if (client !== null) heard.set(client.id, (heard.get(client.id) ?? 0) + 1);
      done(null);
    };
    const scenario = join(folder, 'live.yaml');
    writeFileSync(
      scenario,
      `site: works
motors:
  pump-{1..2}:
    duty: { kind: continuous }
    eachPosition: { device: { outages: { atMinutes: [10], minutes: 5 } } }
`,
    );
    const { port } = server.address() as AddressInfo;
    const { code, said } = await type(
      '--scenario',
      scenario,
      '--seed',
      '1',
      '--hours',
      '0.5',
      '--mqtt',
      `127.0.0.1:${port}`,
      '--speed',
      '600',
    );
    expect(code).toBe(0);
    const [, published, acknowledged] =
      /(\d+) messages published, (\d+) acknowledged, 0 failed/.exec(said) ?? [];
    expect(acknowledged).toBe(published);
    expect([...heard.keys()].sort()).toEqual([
      'pump-1-de',
      'pump-1-drive',
      'pump-1-nde',
      'pump-2-de',
      'pump-2-drive',
      'pump-2-nde',
    ]);
    expect(heard.get('pump-1-de')).toBeGreaterThanOrEqual(180);
    expect(wills).toBe(4);
    await new Promise<void>((resolve) => broker.close(() => server.close(() => resolve())));
  });

  test('says who is missing when nobody listens', async () => {
    const { code, complained } = await type(
      '--scenario',
      DEMO,
      '--seed',
      '1',
      '--hours',
      '1',
      '--mqtt',
      '127.0.0.1:1',
    );
    expect(code).toBe(1);
    expect(complained).toContain('nobody listens on 127.0.0.1:1');
  });

  test.each([
    [[], 'say where to'],
    [['--seed', '1', '--hours', '1', '--capture', 'x'], '--scenario FILE is missing'],
    [['--scenario', DEMO, '--hours', '1', '--capture', 'x'], '--seed is missing'],
    [['--scenario', DEMO, '--seed', '1.5', '--hours', '1', '--capture', 'x'], 'a whole number, found "1.5"'],
    [['--scenario', DEMO, '--seed', '1', '--hours', '0', '--capture', 'x'], 'above 0 and below 1176'],
    [
      ['--scenario', DEMO, '--seed', '1', '--hours', '1', '--capture', 'x', '--mqtt', 'h:1'],
      'exclude each other',
    ],
    [
      ['--scenario', DEMO, '--seed', '1', '--hours', '1', '--capture', 'x', '--speed', '2'],
      '--speed belongs to --mqtt',
    ],
    [['--scenario', DEMO, '--seed', '1', '--hours', '1', '--mqtt', 'nowhere'], 'expected HOST:PORT'],
    [['--scenario', DEMO, '--seed', '1', '--hours', '1', '--capture', 'x', '--start', 'soon'], 'RFC 3339'],
    [['--frobnicate'], '--frobnicate'],
    [
      ['--scenario', 'nowhere.yaml', '--seed', '1', '--hours', '1', '--capture', 'x'],
      'nowhere.yaml: cannot be read',
    ],
  ])('explains %j', async (args, expected) => {
    const { code, complained } = await type(...args);
    expect(code).toBe(2);
    expect(complained).toContain(expected);
  });

  test('cannot write where there is no folder', async () => {
    const path = join(folder, 'no', 'such', 'folder.ndjson');
    const { code, complained } = await type(
      '--scenario',
      DEMO,
      '--seed',
      '1',
      '--hours',
      '0.1',
      '--capture',
      path,
    );
    expect(code).toBe(1);
    expect(complained).toContain('folder.ndjson');
  });

  test('helps', async () => {
    const { code, said } = await type('--help');
    expect(code).toBe(0);
    expect(said).toContain('npm run simulate -- --scenario');
  });
});
