/** `tallypost note`, into a store and through a gateway that runs on it. */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { removeGatewayFile, writeGatewayFile } from '../../src/cli/gateway-file.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { type LittlePlant, makeLittlePlant } from './little-plant.js';
import { runTallypost } from './recorder.js';

let plant: LittlePlant;
beforeAll(async () => {
  plant = makeLittlePlant();
  const { code, err } = await runTallypost(
    ...['replay', '--config', plant.config, '--data', plant.dataDir, '--proof', 'no', plant.capture],
  );
  if (code !== 0) throw new Error(err);
});
afterAll(() => rmSync(plant.folder, { recursive: true, force: true }));

const note = (...options: string[]) => runTallypost('note', '--data', plant.dataDir, ...options);
const WHO = ['--by', 'J. Field'];
const GREASED = ['--motor', 'pump-1', '--action', 'regreased', '--end', 'de', ...WHO];

describe('into a store that no gateway runs on', () => {
  it('enters actions and findings, lists them by time, and withdraws', async () => {
    const config = ['--config', plant.config];
    const first = await note(...config, ...GREASED, '--at', '2026-03-03T10:00:00+01:00', '--note', '20 g');
    expect([first.code, first.err]).toEqual([0, expect.not.stringContaining('tallypost note')]);
    expect(first.out).toBe('entry 1: pump-1, 2026-03-03T09:00Z, regreased, drive end: 20 g\n');
    const finding = [
      '--finding',
      '--removed',
      '--sign',
      'frosting',
      '--sign',
      'fluting',
      '--lubricant',
      'dry',
    ];
    const found = ['--motor', 'pump-1', '--end', 'de', ...finding, '--at', '2026-03-03T08:00:00Z', ...WHO];
    const second = await note(...config, ...found, '--json');
    expect(JSON.parse(second.out)).toMatchObject({ id: 2, removed: true, signs: ['frosting', 'fluting'] });
    const taken = await note(...config, '--withdraw', '1', '--by', 'K. Desk', '--note', 'it was pump-2');
    expect(taken.out).toBe('entry 1 of pump-1 is withdrawn: it was pump-2\n');
    const again = await note(...config, '--withdraw', '1', '--by', 'K. Desk', '--note', 'it was pump-2');
    expect([again.code, again.err]).toEqual([1, expect.stringContaining('withdrawn already')]);
    const { out } = await note('--list');
    expect(
      out
        .split('\n')
        .filter((line) => line !== '')
        .every((line) => line.length <= 100),
    ).toBe(true);
    expect(out.indexOf('found at the drive end')).toBeLessThan(out.indexOf('regreased'));
    expect(out.replaceAll(/\s+/g, ' ')).toContain('[withdrawn by K. Desk: it was pump-2]');
    const json = JSON.parse((await note('--list', '--motor', 'pump-2', '--json')).out) as object;
    expect(json).toEqual({ actions: [], findings: [] });
    const exported = async (table: string, ...more: string[]): Promise<unknown[]> => {
      const { out: text } = await runTallypost('export', table, '--data', plant.dataDir, ...more);
      return text
        .split('\n')
        .filter((line) => line !== '')
        .map((line) => JSON.parse(line) as unknown);
    };
    const action = { id: 1, motor: 'pump-1', at: '2026-03-03T09:00:00.000Z', action: 'regreased', end: 'de' };
    const left = { bearing: null, by: 'J. Field', note: '20 g', withdrawn_by: 'K. Desk' };
    expect(await exported('actions')).toMatchObject([
      { ...action, ...left, withdrawn_note: 'it was pump-2' },
    ]);
    expect(await exported('findings', '--to', '2026-03-03T08:00:00.001Z')).toMatchObject([
      { id: 2, end: 'de', removed: true, modes: '[]', signs: '["frosting","fluting"]', withdrawn_at: null },
    ]);
    expect(await exported('findings', '--from', '2026-03-03T08:00:00.001Z')).toEqual([]);
    expect(await exported('actions', '--sensor', 'pump-2/de')).toEqual([]);
  });

  it.each([
    [GREASED, '--config FILE is missing'],
    [['--motor', 'pump-1', '--action', 'regresed', ...WHO], 'Did you mean regreased?'],
    [['--motor', 'pump-1', '--action', 'regreased'], '--by NAME is missing'],
    [['--action', 'regreased', ...WHO], '--motor MOTOR is missing'],
    [['--motor', 'pump-1', '--action', 'bearing-replaced', '--bearing', 'same', ...WHO], '--end:'],
    [
      ['--motor', 'pump-1', '--action', 'bearing-replaced', '--end', 'de', '--bearing', 'new', ...WHO],
      '--bearing:',
    ],
    [['--motor', 'pump-1', '--finding', '--sign', 'fluting', ...WHO], '--end END is missing'],
    [['--motor', 'pump-1', '--finding', '--end', 'de', ...WHO], '--mode: it says nothing'],
    [['--list', '--by', 'J'], '--by does not go with --list'],
    [['--list', '--finding'], 'exactly one of'],
    [[], 'exactly one of'],
    [['--withdraw', '99', '--by', 'K', '--note', 'why'], 'There is no entry 99'],
    [['--withdraw', '1', '--by', 'K'], '--note:'],
    [['--config', 'CONFIG', '--motor', 'pump-9', '--action', 'regreased', ...WHO], 'no motor "pump-9"'],
    [['--config', 'CONFIG', ...GREASED, '--at', '2999-01-01T00:00:00Z'], 'in the future'],
  ])('%j is refused: %s', async (options, says) => {
    const { code, err } = await note(...options.map((each) => (each === 'CONFIG' ? plant.config : each)));
    expect(code).toBe(2);
    expect(err).toContain(says);
  });

  it('of a folder without a store is told, not made', async () => {
    const empty = join(plant.folder, 'nothing');
    const { code, err } = await runTallypost('note', '--data', empty, '--config', plant.config, ...GREASED);
    expect(code).toBe(3);
    expect(err).toContain('there is no database');
  });

  it('whose clock is ahead of this machine is left alone', async () => {
    const ahead = makeLittlePlant(Math.floor(Date.now() / 60_000) * 60_000 + 86_400_000);
    const options = ['--config', ahead.config, '--data', ahead.dataDir];
    await runTallypost('replay', ...options, '--proof', 'no', ahead.capture);
    const { code, err } = await runTallypost('note', ...options, ...GREASED);
    expect(code).toBe(3);
    expect(err).toContain('Set the clock of this machine');
    rmSync(ahead.folder, { recursive: true, force: true });
  });

  it('its help has examples and every word, in 100 columns', async () => {
    const { out } = await runTallypost('note', '--help');
    for (const word of ['common-mode-filter', 'current-leakage-erosion', 'fluting', 'hardened', 'Examples:'])
      expect(out).toContain(word);
    const long = out.split('\n').filter((line) => line.length > 100 && !line.includes('tallypost note'));
    expect(long).toEqual([]);
  });
});

describe('while a gateway runs', () => {
  let station: Station;
  let live: LittlePlant;
  const through = (...options: string[]) => runTallypost('note', '--data', live.dataDir, ...options);
  beforeAll(async () => {
    live = makeLittlePlant();
    const loaded = loadConfig(live.config);
    if (!loaded.ok) throw new Error('the configuration of the test is wrong');
    const any = { host: '127.0.0.1', port: 0 };
    const log = pino({ level: 'silent' });
    station = await startStation({ ...loaded, dataDir: live.dataDir, mqtt: any, http: any, log });
    const { http, mqtt } = station;
    writeGatewayFile(live.dataDir, { pid: process.pid, http, mqtt, startedAt: '' });
  });
  afterAll(async () => {
    await station.stop();
    rmSync(live.folder, { recursive: true, force: true });
  });

  it('the entry goes through it, found by its file or by its address, and needs no configuration', async () => {
    expect((await through(...GREASED)).out).toMatch(/^entry 1: pump-1/);
    removeGatewayFile(live.dataDir);
    const address = ['--http', station.http.replace('http://', '')];
    expect((await through(...GREASED, ...address, '--json')).out).toContain('"id":2');
    const taken = await through('--withdraw', '2', '--by', 'K', '--note', 'twice', ...address);
    expect(taken.out).toBe('entry 2 of pump-1 is withdrawn: twice\n');
    const again = await through('--withdraw', '2', '--by', 'K', '--note', 'twice', ...address);
    expect([again.code, again.err]).toEqual([1, expect.stringContaining('withdrawn already')]);
    expect((await through('--list')).out).toContain('[withdrawn by K: twice]');
  });

  it('whose file is gone, the store itself refuses a second writer', async () => {
    const { code, err } = await through('--config', live.config, ...GREASED);
    expect(code).toBe(3);
    expect(err).toContain('another gateway writes');
  });

  it('whose address is wrong is told', async () => {
    const { code, err } = await through(...GREASED, '--http', '127.0.0.1:1');
    expect(code).toBe(3);
    expect(err).toContain('No gateway answers on http://127.0.0.1:1');
  });
});
