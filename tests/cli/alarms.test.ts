/** `tallypost alarms`, on a store that no gateway runs on and through a gateway that runs on it. */
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { pino } from 'pino';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { writeGatewayFile } from '../../src/cli/gateway-file.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { openReader } from '../../src/store/reader.js';
import { type LittlePlant, makeLittlePlant } from './little-plant.js';
import { runTallypost } from './recorder.js';

const ID = 'pump-1.de-rate-high';
const WHO = ['--who', 'M. Reed'];

/** By the clock of the site. */
function inTwoHours(): string {
  const clock = { timeZone: 'Europe/London', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } as const;
  return new Intl.DateTimeFormat('en-GB', clock).format(Date.now() + 7_200_000);
}

async function makeStored(): Promise<LittlePlant> {
  const plant = makeLittlePlant();
  const options = ['--config', plant.config, '--data', plant.dataDir, '--proof', 'no'];
  const { code, err } = await runTallypost('replay', ...options, plant.capture);
  if (code !== 0) throw new Error(err);
  return plant;
}

describe('on a store that no gateway runs on', () => {
  let plant: LittlePlant;
  beforeEach(async () => (plant = await makeStored()));
  afterEach(() => rmSync(plant.folder, { recursive: true, force: true }));
  const alarms = (...words: string[]) => runTallypost('alarms', ...words, '--data', plant.dataDir);
  const act = (...words: string[]) => alarms(...words, '--config', plant.config, ...WHO);

  it('lists what is open, the state and the reason in 100 columns', async () => {
    const { code, out } = await alarms();
    expect(code).toBe(0);
    expect(out).toContain(`${ID}          low       unacknowledged  2026-03-02T06:`);
    expect(out.split('\n').every((line) => line.length <= 100)).toBe(true);
    expect((await alarms('list', '--state', 'acknowledged')).out).toBe('No such alarms.\n');
    expect((await alarms('list', '--kind', 'no-readings', '--json')).out).toBe('{"alarms":[]}\n');
    expect((await alarms('list', '--motor', 'pump-1', '--priority', 'low')).out).toContain(ID);
  });

  it('tells times by the clock of the site where it is known, else in UTC; in JSON always in UTC', async () => {
    const { since } = JSON.parse((await alarms('show', ID, '--json')).out) as { since: string };
    const [day, utc] = [since.slice(0, 10), since.slice(11, 16)];
    const zoned = new Intl.DateTimeFormat('en-GB', { timeZone: 'Asia/Kathmandu', timeStyle: 'short' });
    writeFileSync(
      plant.config,
      readFileSync(plant.config, 'utf8').replace('Europe/London', 'Asia/Kathmandu'),
    );
    const local = `${day} ${zoned.format(new Date(since))} GMT+5:45`;
    expect((await alarms('list')).out).toContain(`${day}T${utc}Z`);
    expect((await alarms('list', '--config', plant.config)).out).toContain(local);
    expect((await alarms('show', ID, '--config', plant.config)).out).toMatch(
      new RegExp(`since +${local.replace('+', '\\+')}`),
    );
    expect((await alarms('list', '--json', '--config', plant.config)).out).toContain(since);
  });

  it('shows one with what it rests on and what is to be done', async () => {
    const { out } = await alarms('show', ID, '--config', plant.config);
    for (const words of [
      'even the lower limit',
      'Take a grease sample.',
      'setpoint',
      '60 per minute',
      'running',
    ])
      expect(out.replaceAll(/\s+/g, ' ')).toContain(words);
    for (const words of [
      'Twice what it counted in its first year.',
      'The shaft turns',
      'A count is not a severity',
    ])
      expect(out.replaceAll(/\s+/g, ' ')).toContain(words);
    const never = await alarms('show', 'pump-1.de-clock-off', '--config', plant.config);
    expect(never.out).toContain('never raised');
    const unknown = await alarms('show', 'pump-9.de-rate-high', '--config', plant.config);
    expect([unknown.code, unknown.err]).toEqual([
      1,
      expect.stringContaining('no alarm "pump-9.de-rate-high"'),
    ]);
  });

  it('takes a whole round of acts, each kept and journalled with who and why', async () => {
    const done = async (...words: string[]): Promise<string> => {
      const { code, out, err } = await act(...words);
      expect([words[0], code, err.replace(/^warning.*\n/gm, '')]).toEqual([words[0], 0, '']);
      return out;
    };
    expect(await done('acknowledge', ID, '--note', 'seen')).toBe(`${ID}: acknowledged\n`);
    expect(await done('confirm', ID, '--note', 'sample taken')).toBe(`${ID}: acknowledged\n`);
    expect(await done('shelve', ID, '--until', '8h', '--once', '--note', 'filter is fitted')).toBe(
      `${ID}: shelved\n`,
    );
    expect((await alarms('list')).out).toMatch(/shelved until \d{4}-/);
    expect(await done('out-of-service', ID, '--note', 'sensor sent in')).toBe(`${ID}: out-of-service\n`);
    expect(await done('return', ID)).toBe(`${ID}: shelved\n`);
    expect(await done('unshelve', ID)).toBe(`${ID}: acknowledged\n`);
    const reader = openReader(plant.dataDir);
    const { items } = reader.journal({ from: null, to: null, limit: 100, cursor: null });
    reader.close();
    const told = items.filter(({ kind, subject }) => kind === 'operator' && subject === ID);
    expect(told.map(({ what, who }) => [what, who])).toEqual(
      [
        'acknowledged',
        'confirmed',
        'shelved',
        'taken-out-of-service',
        'returned-to-service',
        'unshelved',
      ].map((what) => [what, 'M. Reed']),
    );
    expect(told[2]!.text).toMatch(/^until \d{4}-.*Z, or its next return: filter is fitted$/);
    expect(told.every(({ annunciated, at, detectedAt }) => !annunciated && detectedAt >= at)).toBe(true);
  });

  it('refuses what does not apply, with the reason, and ends with 1', async () => {
    const refused = async (...words: string[]): Promise<string> => {
      const { code, out } = await act(...words);
      expect([words, code]).toEqual([words, 1]);
      return out;
    };
    expect(await refused('confirm', ID)).toContain('Acknowledge it first');
    expect(await refused('reset', ID)).toContain('not latched');
    expect(await refused('unshelve', ID)).toContain('not shelved');
    expect(await refused('return', ID)).toContain('in service');
    const both = await refused('acknowledge', ID, 'pump-9.x');
    expect(both).toBe(
      `${ID}: acknowledged\npump-9.x: not done. There is no such alarm. The list of alarms has their ids.\n`,
    );
  });

  it('acknowledges by description, all but what is hidden', async () => {
    const shelved = await act('shelve', ID, '--until', '1h', '--note', 'work');
    expect(shelved.code).toBe(0);
    expect((await act('acknowledge', '--kind', 'rate-high')).out).toBe('Nothing waits for it.\n');
    expect((await act('unshelve', ID)).code).toBe(0);
    const { code, out } = await act('acknowledge', '--zone', 'plant', '--kind', 'rate-high', '--json');
    const slip = await act('acknowledge', '--zone', 'plnt');
    expect([slip.code, slip.out]).toEqual([2, '']);
    expect(slip.err).toContain('there is no zone "plnt"');
    expect([code, JSON.parse(out)]).toEqual([
      0,
      { results: [{ id: ID, done: true, state: 'acknowledged', reason: '', says: '' }] },
    ]);
  });

  it('a shelf that ended already or lasts too long is refused', async () => {
    const until = (time: string) => act('shelve', ID, '--note', 'work', '--until', time);
    for (const [time, says] of [
      ['2026-03-02T07:00:00Z', 'would have ended already'],
      ['25h', 'longer than the configuration allows'],
      ['soon', 'a length such as 8h'],
      ['30s', 'must be 1 min to'],
    ] as const) {
      const { code, err } = await until(time);
      expect([time, code, err]).toEqual([time, 2, expect.stringContaining(says)]);
    }
    expect((await until(inTwoHours())).code).toBe(0);
  });

  it.each([
    [['shelve', ID, ...WHO, '--note', 'w'], '--until TIME is missing'],
    [['shelve', ID, ...WHO, '--until', '8h', '--config', 'CONFIG'], '--note:'],
    [['out-of-service', ID, ...WHO], '--note:'],
    [['acknowledge', ID], '--who NAME is missing'],
    [['acknowledge', ...WHO], 'Say which alarms'],
    [['confirm', ...WHO], 'Say which alarms: their ids.'],
    [['acknowledge', ID, '--motor', 'pump-1', ...WHO], 'not both'],
    [['confirm', '--motor', 'pump-1', ...WHO], '--motor does not go with confirm'],
    [['list', ...WHO], '--who does not go with list'],
    [['list', ID], 'list takes no ids'],
    [['show'], 'show takes the id of one alarm'],
    [['show', 'pump-1'], '"pump-1" is no id of an alarm. An id is <motor>.<alarm>'],
    [['acknowledge', ID, 'pump-1/de', ...WHO], '"pump-1/de" is no id of an alarm'],
    [['acknowlege', ID], 'Did you mean acknowledge?'],
    [['acknowledge', ID, '--who', 'a\u0007b'], 'without control characters'],
    [['acknowledge', ID, ...WHO], '--config FILE is missing'],
    [['list', '--zone', 'plant'], '--config FILE is missing'],
  ])('%j is refused: %s', async (words, says) => {
    const { code, err } = await alarms(...words.map((each) => (each === 'CONFIG' ? plant.config : each)));
    expect([code, err]).toEqual([2, expect.stringContaining(says)]);
  });
});

describe('while a gateway runs', () => {
  let station: Station;
  let plant: LittlePlant;
  const alarms = (...words: string[]) => runTallypost('alarms', ...words, '--data', plant.dataDir);
  beforeAll(async () => {
    plant = await makeStored();
    const loaded = loadConfig(plant.config);
    if (!loaded.ok) throw new Error('the configuration of the test is wrong');
    const any = { host: '127.0.0.1', port: 0 };
    const log = pino({ level: 'silent' });
    station = await startStation({ ...loaded, dataDir: plant.dataDir, mqtt: any, http: any, log });
    const { http, mqtt } = station;
    writeGatewayFile(plant.dataDir, { pid: process.pid, http, mqtt, startedAt: '' });
  });
  afterAll(async () => {
    await station.stop();
    rmSync(plant.folder, { recursive: true, force: true });
  });

  it('everything goes through it, without a configuration', async () => {
    expect((await alarms('show', ID)).out).toContain('Take a grease sample.');
    const { code, out } = await alarms('acknowledge', ID, 'pump-9.x', ...WHO);
    expect([code, out]).toEqual([
      1,
      expect.stringContaining(`${ID}: acknowledged\npump-9.x: not done. There is no`),
    ]);
    expect((await alarms('list', '--state', 'acknowledged', '--zone', 'plant')).out).toContain(ID);
    const shelved = await alarms('shelve', ID, '--until', inTwoHours(), '--note', 'work', ...WHO);
    expect(shelved.out).toBe(`${ID}: shelved\n`);
    const far = await alarms('shelve', ID, '--until', '3d', '--note', 'work', ...WHO);
    expect([far.code, far.err]).toEqual([2, expect.stringContaining('longer than the configuration allows')]);
    expect((await alarms('unshelve', ID, ...WHO)).code).toBe(0);
    expect((await alarms('acknowledge', '--motor', 'pump-1', '--kind', 'rate-high', ...WHO)).out).toBe(
      'Nothing waits for it.\n',
    );
    const refused = await alarms('return', ID, ...WHO, '--json');
    expect(JSON.parse(refused.out)).toMatchObject({
      results: [{ done: false, reason: 'in-service-already' }],
    });
    const none = await alarms('show', 'pump-9.x');
    expect([none.code, none.err]).toEqual([1, expect.stringContaining('no alarm "pump-9.x"')]);
  });
});
