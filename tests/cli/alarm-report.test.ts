/** `tallypost alarms report`, from a store and through a gateway; and what is known of a time when. */
import { rmSync } from 'node:fs';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { performanceBody, type PerformanceBody } from '../../src/api/alarm-performance-bodies.js';
import { journalProofBody } from '../../src/api/journal-bodies.js';
import { writeGatewayFile } from '../../src/cli/gateway-file.js';
import { answerPerformance } from '../../src/cli/query/alarm-performance.js';
import { startStation, type Station } from '../../src/cli/station.js';
import { loadConfig } from '../../src/config/parse.js';
import { openReader } from '../../src/store/reader.js';
import { openStore } from '../../src/store/store.js';
import { entry } from '../store/journal-rig.js';
import { commit, makeFolder, outputs, rollup, START } from '../store/sample-rows.js';
import { type LittlePlant, makeLittlePlant } from './little-plant.js';
import { runTallypost } from './recorder.js';

const ID = 'pump-1.de-rate-high';
const HOUR = 3_600_000;
const MARCH = ['--from', '2026-03-02T00:00:00Z', '--to', '2026-03-04T00:00:00Z'];

let plant: LittlePlant;
beforeAll(async () => {
  plant = makeLittlePlant();
  const options = ['--config', plant.config, '--data', plant.dataDir, '--proof', 'no'];
  const { code, err } = await runTallypost('replay', ...options, plant.capture);
  if (code !== 0) throw new Error(err);
  const by = ['--config', plant.config, '--data', plant.dataDir, '--who', 'M. Reed'];
  const until = ['--until', '8h', '--note', 'filter is being fitted'];
  const shelved = await runTallypost('alarms', 'shelve', ID, ...by, ...until);
  if (shelved.code !== 0) throw new Error(shelved.err);
});
afterAll(() => rmSync(plant.folder, { recursive: true, force: true }));

const report = (...words: string[]) =>
  runTallypost('alarms', 'report', '--data', plant.dataDir, '--config', plant.config, ...words);

/** Alarms as the journal of that day says that they were announced, in its order. */
async function readTold(): Promise<string[]> {
  const words = ['journal', 'export', '--data', plant.dataDir, '--kind', 'alarm', ...MARCH];
  const { out } = await runTallypost(...words);
  return out
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as { subject: string; annunciated: boolean; what: string })
    .filter(({ annunciated, what }) => annunciated && what !== 'returned')
    .map(({ subject }) => subject);
}

describe('from a store', () => {
  it('tells each figure beside what is published and where, in 100 columns', async () => {
    const { code, out } = await report(...MARCH);
    expect(code).toBe(0);
    for (const words of [
      'in 10 min, mean',
      'about 1, at most about 2 [1]',
      'were not read',
      'Shelved now',
      ID,
    ])
      expect(out.replaceAll(/\s+/g, ' ')).toContain(words);
    expect(out).toContain('Europe/London');
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(100);
  });

  it('as JSON has the body that HTTP has, with what the journal says was announced', async () => {
    const told = await readTold();
    expect(told.length).toBeGreaterThan(0);
    const body = performanceBody.strict().parse(JSON.parse((await report(...MARCH, '--json')).out));
    expect(body).toMatchObject({ time_zone: 'Europe/London', positions: 1, alarms: told.length });
    expect(body.frequent.map(({ alarm }) => alarm)).toEqual([...new Set(told)].sort());
    expect(body.shelved).toMatchObject([{ alarm: ID, by: 'M. Reed', why: 'filter is being fitted' }]);
    expect(body.days[0]).toMatchObject({ date: '2026-03-02', alarms: told.length, whole: false });
  });

  it('of a time before the journal nothing is known, and it says that this is not the same as none', async () => {
    const early = ['--from', '2025-03-02T00:00:00Z', '--to', '2025-03-04T00:00:00Z'];
    expect((await report(...early)).out.replaceAll(/\s+/g, ' ')).toContain('not the same as no alarms');
    const body = JSON.parse((await report(...early, '--json')).out) as PerformanceBody;
    expect([body.covered, body.alarms]).toEqual([null, null]);
    expect(body.figures.every(({ value }) => value === null)).toBe(true);
  });

  it.each([
    [['--positions', '0'], '--positions must be a number from 1'],
    [['--positions', '1.5'], 'must be a whole number'],
    [['pump-1.de-x'], 'report takes no ids'],
    [['--motor', 'pump-1'], '--motor does not go with report'],
    [['--from', '2999-01-01T00:00:00Z'], '--from must lie before now'],
  ])('%j is a mistake of usage', async (words, told) => {
    const { code, err } = await report(...words);
    expect(code).toBe(2);
    expect(err).toContain(told);
  });
});

describe('what is known when', () => {
  const known = (dir: string) => {
    const reader = openReader(dir);
    const span = { from: START - 9e9, to: START + 9e9 };
    const found = answerPerformance(reader, { ...span, positions: 1, timeZone: 'UTC', respondMs: {} });
    reader.close();
    return found.covered;
  };
  const counted = () =>
    outputs({
      chains: [{ id: 1, sensor: 'pump-1/de', device: 'a', boot: null }],
      rollups: [rollup(1, 1, { period: '1h', start: START })],
    });
  const ticked = (tick: number) => ({ key: 'engine', version: 1, json: JSON.stringify({ tick }) });

  it('a store in which nothing was ever counted knows nothing; one that counted, since then, up to its last tick', () => {
    const folder = makeFolder();
    const store = openStore(folder.dir);
    expect(known(folder.dir)).toBeNull();
    commit(store, { ...counted(), checkpoints: [ticked(START + 5 * HOUR)] });
    expect(known(folder.dir)).toEqual({ from: START, to: START + 5 * HOUR });
    store.close();
    folder.remove();
  });

  it('where retention has removed entries, since the first that is left', () => {
    const folder = makeFolder();
    const store = openStore(folder.dir);
    const day = (i: number) => ({ at: START + i * 24 * HOUR, detectedAt: START + i * 24 * HOUR });
    commit(store, {
      ...counted(),
      checkpoints: [ticked(START + 300 * HOUR)],
      journal: [0, 4, 9].map((i) => entry(i, day(i))),
    });
    const years = { incrementsDays: 999, minutesDays: 999, tenMinutesDays: 999, hoursDays: 999 };
    store.retain(START + 10 * 24 * HOUR, { ...years, journalDays: 5, quarantineDays: 9, drivesDays: 9 });
    expect(known(folder.dir)).toEqual({ from: day(9).at, to: START + 300 * HOUR });
    store.close();
    folder.remove();
  });
});

describe('through a gateway', () => {
  let station: Station;
  beforeAll(async () => {
    const loaded = loadConfig(plant.config);
    if (!loaded.ok) throw new Error('the configuration is not valid');
    const free = { host: '127.0.0.1', port: 0 };
    station = await startStation({
      ...{ config: loaded.config, plan: loaded.plan, dataDir: plant.dataDir, mqtt: free, http: free },
      log: pino({ level: 'silent' }),
    });
    writeGatewayFile(plant.dataDir, {
      pid: process.pid,
      mqtt: station.mqtt,
      http: station.http,
      startedAt: '',
    });
  });
  afterAll(() => station.stop());

  it('the same report, without a configuration', async () => {
    const words = ['alarms', 'report', '--data', plant.dataDir, ...MARCH, '--json'];
    const { code, out } = await runTallypost(...words);
    expect(code).toBe(0);
    const { alarms, time_zone: zone } = performanceBody.parse(JSON.parse(out));
    expect([alarms, zone]).toEqual([(await readTold()).length, 'Europe/London']);
  });

  it('and the proof of its journal, by another thread', async () => {
    const response = await fetch(`${station.http}/api/v1/journal/verify`);
    const proof = journalProofBody.parse(await response.json());
    expect(proof).toMatchObject({ intact: true, fault: null });
    expect(proof.entries).toBeGreaterThan(1);
    const again = await runTallypost(
      'journal',
      'verify',
      '--data',
      plant.dataDir,
      '--expect',
      proof.head!.digest,
    );
    expect(again.code).toBe(0);
  });
});
