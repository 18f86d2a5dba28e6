/** The desk of the servers without what it would need: the gateway goes on, and somebody reads what to do. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { StationPlc } from '../../src/cli/plc-desk.js';
import { parseConfig } from '../../src/config/parse.js';
import { keepSlots, readKeptSlots } from '../../src/plc/kept-slots.js';
import { NewsBoard } from '../../src/plc/news-board.js';
import { findMissingPackage, OPCUA_PACKAGE, OPCUA_VERSION } from '../../src/plc/opcua-package.js';
import { readWish } from '../../src/plc/wishes.js';
import { repositoryRoot } from '../support/repository.js';
import { alarmNews, driveNews, newsOf, rateNews } from './small-plant.js';

const absent = (name: string): string => {
  throw new Error(`Cannot find module '${name}'`);
};
let folder: string;
beforeEach(() => (folder = mkdtempSync(join(tmpdir(), 'tallypost-desk-'))));
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('without the package of OPC UA', () => {
  it('the gateway runs, and the log says what to install', () => {
    const text = 'site: works\nopcua: { anonymous: true }\nmotors: { pump-1: { positions: { de: {} } } }\n';
    const result = parseConfig(text, 'plant.yaml');
    if (!result.ok) throw new Error(JSON.stringify(result.problems));
    const errors: string[] = [];
    const desk = new StationPlc({
      config: result.config,
      gateway: { plan: () => result.plan } as never,
      reader: {} as never,
      ...{ dataDir: folder, version: '0.0.0', resolve: absent },
      log: { info: () => undefined, warn: () => undefined, error: (_facts, said) => errors.push(said) },
    });
    expect(errors).toEqual([
      expect.stringContaining(`npm install --no-save ${OPCUA_PACKAGE}@${OPCUA_VERSION}`),
    ]);
    expect([...desk.status()]).toEqual([]);
    expect(desk.metrics()).toEqual([]);
  });

  it('names the version that the program declares', () => {
    const { peerDependencies, peerDependenciesMeta } = JSON.parse(
      readFileSync(join(repositoryRoot(), 'package.json'), 'utf8'),
    ) as { peerDependencies: Record<string, string>; peerDependenciesMeta: Record<string, unknown> };
    expect(peerDependencies[OPCUA_PACKAGE]).toBe(OPCUA_VERSION);
    expect(peerDependenciesMeta[OPCUA_PACKAGE]).toEqual({ optional: true });
    expect(findMissingPackage()).toBeNull();
  });
});

describe('kept slots', () => {
  it('are added to, replaced by those of the configuration, and never guessed when they cannot be read', () => {
    expect(readKeptSlots(folder)).toEqual(new Map());
    keepSlots(folder, new Map([['a', 1]]), false);
    keepSlots(folder, new Map([['b', 2]]), false);
    expect(readKeptSlots(folder)).toEqual(
      new Map([
        ['a', 1],
        ['b', 2],
      ]),
    );
    keepSlots(folder, new Map([['b', 7]]), true);
    expect(readKeptSlots(folder)).toEqual(new Map([['b', 7]]));
    writeFileSync(join(folder, 'modbus-slots.json'), '{');
    expect(() => readKeptSlots(folder)).toThrow(/modbus-slots\.json cannot be read .* write modbus\.slots/);
  });
});

describe('news for a server that listens slowly', () => {
  it('melt together: one of each subject waits, the newest', () => {
    const board = new NewsBoard();
    let calls = 0;
    const feed = board.open(() => calls++);
    for (let i = 0; i < 1_000; i++) board.takeRate(rateNews({ at: i, runningAt: i < 900 ? i : null }));
    board.takeDrive(driveNews({ at: 5 }));
    board.takeDrive(driveNews({ at: 4, state: 'stopped' }));
    board.takeAbsence('pump-1', 6);
    board.takeAlarm(alarmNews('pump-1.de-rate-high'));
    board.takeFirst({
      drives: [driveNews({ at: 1 })],
      alarms: [alarmNews('pump-1.de-rate-high', { state: 'normal' })],
      heard: [],
    });
    expect(calls).toBeGreaterThan(1_000);
    expect(feed.drain()).toEqual(
      newsOf({
        rates: [rateNews({ at: 999, runningAt: 899 })],
        drives: [driveNews({ at: 5, absentFrom: 6 })],
        alarms: [alarmNews('pump-1.de-rate-high')],
      }),
    );
    expect(feed.isEmpty).toBe(true);
    expect(feed.drain()).toEqual(newsOf({}));
  });

  it('come in messages of a bounded size, and all of them to a server that starts anew', () => {
    const board = new NewsBoard();
    for (let i = 0; i < 1_200; i++) board.takeRate(rateNews({ sensor: `pump-${i}/de` }));
    const feed = board.open(() => undefined);
    const sizes = [feed.drain(), feed.drain(), feed.drain(), feed.drain()].map(({ rates }) => rates.length);
    expect(sizes).toEqual([500, 500, 200, 0]);
    feed.close();
    board.takeRate(rateNews());
    expect(feed.isEmpty).toBe(true);
  });
});

it('what a server process asks is checked', () => {
  const act = {
    do: 'operate',
    alarm: 'a.b',
    act: 'acknowledge',
    forMs: 0,
    once: false,
    who: 'shift',
    note: '',
  };
  const history = { do: 'history', sensor: 'a/b', period: '1m', from: 0, to: 1, limit: 1_000 };
  expect([act, history].map(readWish)).toEqual([act, history]);
  const broken = [
    null,
    7,
    {},
    { ...act, act: 'delete' },
    { ...act, who: '' },
    { ...act, note: 'x'.repeat(501) },
  ];
  expect([...broken, { ...history, limit: 1_001 }, { ...history, period: '10s' }].map(readWish)).toEqual(
    Array.from({ length: 8 }, () => null),
  );
});
