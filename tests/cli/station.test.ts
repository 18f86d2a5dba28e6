/** Gateway and HTTP interface as one: what a start needs that fails, and what a reload changes for those who are logged in. */
import { createServer, type AddressInfo } from 'node:net';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';

const ANY = { host: '127.0.0.1', port: 0 };
const log = pino({ level: 'silent' });
const WIRED = 'motors:\n  pump-1: { positions: { de: {} } }\n';
let folder: string;
let file: string;
let open: Station[];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-station-'));
  file = join(folder, 'workshop.yaml');
  open = [];
});
afterEach(async () => {
  for (const station of open) await station.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** `users`: names with a password file of the same name; `more`: motors beside the first. */
function load(users: readonly string[], more = '') {
  const lines = users.map((name) => `    - { name: ${name}, role: view, passwordFile: ${name} }\n`);
  const http = users.length === 0 ? '' : `http:\n  users:\n${lines.join('')}`;
  writeFileSync(file, `site: workshop\n${WIRED}${more}${http}`);
  const loaded = loadConfig(file);
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
  return loaded;
}

function writePassword(name: string): void {
  writeFileSync(join(folder, name), `the word of ${name}`, { mode: 0o600 });
}

async function start(users: readonly string[], http = ANY): Promise<Station> {
  const station = await startStation({
    ...load(users),
    ...{ dataDir: join(folder, 'data'), mqtt: ANY, http, log },
  });
  open.push(station);
  return station;
}

async function readAs({ http }: Station, name: string, path = '/api/v1/sensors'): Promise<Response> {
  const word = Buffer.from(`${name}:the word of ${name}`).toString('base64');
  return fetch(http + path, { headers: { authorization: `Basic ${word}` } });
}

describe('a start', () => {
  it('on an HTTP address that is taken says what to do, and leaves nothing running', async () => {
    const other = createServer().listen(0, '127.0.0.1');
    await new Promise((resolve) => other.once('listening', resolve));
    const { port } = other.address() as AddressInfo;
    await expect(start([], { host: '127.0.0.1', port })).rejects.toMatchObject({
      message: `HTTP cannot listen on 127.0.0.1:${port}: something listens there already.`,
      hint: 'Stop it, or choose another port with --http.',
    });
    other.close();
    // the store is free again, or this would be refused
    await start([]);
  });

  it('without a password that a user needs says which', async () => {
    await expect(start(['reed'])).rejects.toThrow('http.users: "reed"');
    writePassword('reed');
    expect((await readAs(await start(['reed']), 'reed')).status).toBe(200);
  });
});

describe('a reload', () => {
  it('takes users and motors over at once, or nothing where a password is missing', async () => {
    writePassword('reed');
    writePassword('wood');
    const station = await start(['reed']);
    expect([(await readAs(station, 'reed')).status, (await readAs(station, 'wood')).status]).toEqual([
      200, 401,
    ]);
    expect(() => station.prepareHttp(load(['reed', 'gone']).config)).toThrow('http.users: "gone"');
    expect((await readAs(station, 'reed')).status).toBe(200);
    const next = load(['wood'], '  pump-2: { positions: { nde: {} } }\n');
    const take = station.prepareHttp(next.config);
    expect((await readAs(station, 'wood')).status).toBe(401);
    await station.gateway.reload(next.config, next.plan, 'a user and a motor');
    await take(next.plan);
    expect((await readAs(station, 'reed')).status).toBe(401);
    const sensors = await readAs(station, 'wood');
    expect([sensors.status, await sensors.text()]).toEqual([200, expect.stringContaining('pump-2/nde')]);
    const gateway = await readAs(station, 'wood', '/api/v1/gateway');
    expect(await gateway.json()).toMatchObject({ configuration: { state: 'same' } });
  });
});
