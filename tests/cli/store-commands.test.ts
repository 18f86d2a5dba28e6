import { existsSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type LittlePlant, makeLittlePlant } from './little-plant.js';
import { COMMANDS, runTallypost } from './recorder.js';

let plant: LittlePlant;
beforeAll(async () => {
  plant = makeLittlePlant();
  const { code, err } = await runTallypost(
    'replay',
    '--config',
    plant.config,
    '--data',
    plant.dataDir,
    plant.capture,
  );
  if (code !== 0) throw new Error(err);
});
afterAll(() => rmSync(plant.folder, { recursive: true, force: true }));

function parseLines(text: string): Record<string, unknown>[] {
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as Record<string, unknown>);
}

async function exportLines(table: string, ...options: string[]): Promise<Record<string, unknown>[]> {
  const { code, out, err } = await runTallypost('export', table, '--data', plant.dataDir, ...options);
  if (code !== 0) throw new Error(err);
  return parseLines(out);
}

describe('replay', () => {
  it('tells readings, speed and balance as JSON', async () => {
    const dataDir = join(plant.folder, 'again');
    const { code, out } = await runTallypost(
      'replay',
      '--config',
      plant.config,
      '--data',
      dataDir,
      '--json',
      plant.capture,
    );
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ readings: 181, refused: 1, balanced: true });
  });

  it('of a missing file fails with its name', async () => {
    const { code, err } = await runTallypost(
      'replay',
      '--config',
      plant.config,
      '--data',
      plant.dataDir,
      'nowhere.ndjson',
    );
    expect(code).toBe(3);
    expect(err).toContain('nowhere.ndjson');
  });

  it('of an invalid configuration is refused with its place', async () => {
    const config = join(plant.folder, 'wrong.yaml');
    writeFileSync(config, 'site: workshop\nmotrs: {}\n');
    const { code, err } = await runTallypost(
      'replay',
      '--config',
      config,
      '--data',
      plant.dataDir,
      plant.capture,
    );
    expect(code).toBe(1);
    expect(err).toMatch(/wrong\.yaml:2:1 .*did you mean "motors"/);
  });
});

describe('ledger', () => {
  it('balances, exit 0, and holds every pulse of the counter', async () => {
    const { code, out } = await runTallypost('ledger', '--data', plant.dataDir, '--json');
    expect(code).toBe(0);
    const { balanced, sensors } = JSON.parse(out) as {
      balanced: boolean;
      sensors: { sensor: string; counted: number }[];
    };
    expect(balanced).toBe(true);
    expect(sensors).toMatchObject([
      { sensor: 'pump-1/de', counted: plant.pulses, pending: 0, unknown: [], faults: [] },
    ]);
  });

  it('says so in words', async () => {
    const { out } = await runTallypost('ledger', '--data', plant.dataDir);
    expect(out).toMatch(
      /^sensor +counted +rejected +check +unattributed +transient +common +running +background/,
    );
    expect(out).toContain('The ledger balances.');
  });

  it('of a sensor that never was is a mistake, not a balance', async () => {
    const { code, err } = await runTallypost('ledger', '--data', plant.dataDir, '--sensor', 'pump-1/nde');
    expect(code).toBe(2);
    expect(err).toContain('no readings of pump-1/nde');
  });

  it('of a folder without a store is a failure that says what to name', async () => {
    const { code, err } = await runTallypost('ledger', '--data', join(plant.folder, 'nothing'));
    expect(code).toBe(3);
    expect(err).toContain('--data');
    expect(err.match(/--data/g)).toHaveLength(1);
  });
});

describe('export', () => {
  it('of increments sums to what was counted, and has no internal numbers', async () => {
    const rows = await exportLines('increments');
    expect(rows.reduce((sum, row) => sum + Number(row['pulses']), 0)).toBe(plant.pulses);
    expect(Object.keys(rows[0] ?? {})).toEqual(
      'sensor from to device boot seq count pulses ms class reason quality temperature_c bin'.split(' '),
    );
  });

  it('of rollups has the same pulses in every period that is over', async () => {
    for (const period of ['10s', '1m', '10m']) {
      const rows = await exportLines('rollups', '--period', period);
      const classes = ['rejected', 'check', 'unattributed', 'transient', 'common', 'running', 'background'];
      const sum = rows.reduce(
        (total, row) => total + classes.reduce((s, c) => s + Number(row[`${c}_pulses`]), 0),
        0,
      );
      expect([period, sum]).toEqual([period, plant.pulses]);
    }
  });

  it('sets the start aside and raises the alarm on the running rate', async () => {
    const [transient] = await exportLines('transients');
    expect(transient).toMatchObject({ motor: 'pump-1', kind: 'start', edges: 2, sensor: 'pump-1/de' });
    const alarm = (await exportLines('alarms')).find((row) => row['id'] === 'pump-1.de-rate-high');
    expect(alarm).toMatchObject({ state: 'unacknowledged', active: true });
    expect(JSON.parse(String(alarm?.['evidence']))).toMatchObject({ setpoint_per_min: 60 });
    const journal = await exportLines('journal');
    expect(journal[0]).toMatchObject({ kind: 'alarm', subject: 'pump-1.de-rate-high', to: 'unacknowledged' });
  });

  it('narrows by time, the end not included', async () => {
    const from = '2026-03-02T06:10:00Z';
    const rows = await exportLines('increments', '--from', from, '--to', '2026-03-02T07:11:00+01:00');
    expect(rows.map((row) => row['to'])).toEqual(
      ['00', '10', '20', '30', '40', '50'].map((second) => `2026-03-02T06:10:${second}.000Z`),
    );
  });

  it('writes CSV with a header and empty cells for null', async () => {
    const { out } = await runTallypost(
      'export',
      'rollups',
      '--data',
      plant.dataDir,
      '--period',
      '10m',
      '--format',
      'csv',
      '--final',
    );
    const [head, ...rows] = out.trimEnd().split('\n');
    expect(head?.split(',').slice(0, 3)).toEqual(['sensor', 'period', 'start']);
    expect(head).not.toContain('revision');
    expect(rows).toHaveLength(3);
  });

  it('of two stores with the same messages is the same text', async () => {
    const dataDir = join(plant.folder, 'twin');
    await runTallypost('replay', '--config', plant.config, '--data', dataDir, plant.capture);
    for (const table of ['increments', 'rollups', 'transients', 'alarms']) {
      const one = await runTallypost('export', table, '--data', plant.dataDir);
      const other = await runTallypost('export', table, '--data', dataDir);
      expect(other.out).toBe(one.out);
    }
  });

  it.each([
    [['export', 'rolups'], 'Did you mean rollups?'],
    [['export', 'rollups', '--from', 'yesterday'], 'is no time'],
    [
      ['export', 'rollups', '--from', '2026-03-02T07:00:00Z', '--to', '2026-03-02T06:00:00Z'],
      '--from must lie before --to',
    ],
  ])('%j is a mistake of usage', async (argv, told) => {
    const { code, err } = await runTallypost(...argv, '--data', plant.dataDir);
    expect(code).toBe(2);
    expect(err).toContain(told);
  });
});

describe('backup and restore', () => {
  it('a restored backup exports the same, and what was there is set aside', async () => {
    const file = join(plant.folder, 'copy.db');
    expect((await runTallypost('backup', '--data', plant.dataDir, file)).code).toBe(0);
    const dataDir = join(plant.folder, 'restored');
    expect((await runTallypost('restore', '--data', dataDir, file)).code).toBe(0);
    const again = await runTallypost('restore', '--data', dataDir, '--json', file);
    const { set_aside: aside } = JSON.parse(again.out) as { set_aside: string };
    expect(existsSync(aside)).toBe(true);
    const one = await runTallypost('export', 'increments', '--data', plant.dataDir);
    expect((await runTallypost('export', 'increments', '--data', dataDir)).out).toBe(one.out);
  });

  it('nothing is overwritten', async () => {
    const file = join(plant.folder, 'taken.db');
    writeFileSync(file, 'mine');
    const { code, err } = await runTallypost('backup', '--data', plant.dataDir, file);
    expect(code).toBe(3);
    expect(err).toContain('exists already');
  });

  it('a file that is no store is refused and changes nothing', async () => {
    const file = join(plant.folder, 'letter.db');
    writeFileSync(file, 'Dear Sir or Madam, this is not a database at all, but a letter.');
    const before = await runTallypost('export', 'increments', '--data', plant.dataDir);
    const { code, err } = await runTallypost('restore', '--data', plant.dataDir, file);
    expect(code).toBe(3);
    expect(err).toContain('no usable backup');
    expect((await runTallypost('export', 'increments', '--data', plant.dataDir)).out).toBe(before.out);
  });
});

it('an export of a sensor that never was is a mistake, not an empty table', async () => {
  const { code, out, err } = await runTallypost(
    'export',
    'rollups',
    '--data',
    plant.dataDir,
    '--sensor',
    'pump-1/nde',
    '--format',
    'csv',
  );
  expect([code, out]).toEqual([2, '']);
  expect(err).toContain('no readings of pump-1/nde');
});

describe('check and schema', () => {
  it('summarises a valid configuration, exit 0', async () => {
    const { code, out } = await runTallypost('check', '--config', plant.config);
    expect(code).toBe(0);
    expect(out).toContain('workshop/in/pump-1/de/reading');
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(100);
    const json = await runTallypost('check', '--config', plant.config, '--json');
    expect(json.out).toContain('"above-baseline"');
    expect(JSON.parse(json.out)).toMatchObject({
      valid: true,
      site: 'workshop',
      motors: [{ motor: 'pump-1' }],
    });
  });

  it('names every problem, exit 1', async () => {
    const config = join(plant.folder, 'bad.yaml');
    writeFileSync(config, 'site: Workshop\nmotors:\n  pump-1: { positons: {} }\n');
    const { code, err } = await runTallypost('check', '--config', config);
    expect(code).toBe(1);
    expect(err).toMatch(/bad\.yaml:1:7 site/);
    expect(err).toContain('did you mean "positions"');
    const json = await runTallypost('check', '--config', config, '--json');
    expect(JSON.parse(json.out)).toMatchObject({ valid: false });
  });

  it('the schema is JSON Schema of the whole file', async () => {
    const { code, out } = await runTallypost('schema');
    expect(code).toBe(0);
    expect(Object.keys((JSON.parse(out) as { properties: object }).properties)).toContain('motors');
  });
});

describe('help', () => {
  it.each(COMMANDS.map((command) => [command.name]))(
    '%s --help explains itself with an example',
    async (name) => {
      const { code, out } = await runTallypost(name, '--help');
      expect(code).toBe(0);
      expect(out).toMatch(new RegExp(`^Usage: tallypost ${name}`));
      expect(out).toMatch(new RegExp(`Examples?:\n  tallypost ${name}`));
    },
  );
});
