import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import type { CaptureLine } from '../../src/engine/capture-line.js';
import { parseLine } from '../../src/engine/capture-line.js';
import { formatLine } from '../../src/engine/capture-line.js';
import { CORE } from '../../src/engine/engine-core.js';
import { replay, type ReplayFigures } from '../../src/engine/replay.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import { openReader } from '../../src/store/reader.js';
import { proveLedger } from '../../src/store/ledger.js';
import { conditionAlarm } from '../support/alarm-hall.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { READING_TOPIC, reading, startRig, readConfigFile } from './gateway-rig.js';
import type { Recorded } from '../../src/gateway.js';

const folder = mkdtempSync(join(tmpdir(), 'replay-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const retention = {
  incrementsDays: 1e6,
  minutesDays: 1e6,
  tenMinutesDays: 1e6,
  hoursDays: 1e6,
  journalDays: 1e6,
  quarantineDays: 1e6,
  drivesDays: 1e6,
};
const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')]);
const START = 1_772_431_200_000;

function message(arrived: number, place: string, json: unknown): CaptureLine {
  const topic = `${plan.site}/in/${place}`;
  return { kind: 'message', arrived, client: 'c', topic, payload: { json }, retain: false };
}

/** Running from the start, a reading every 10 s, and one bad message. */
function makeLines(readings: number): CaptureLine[] {
  const lines = [message(START, 'pump/drive/state', { state: 'running', at: START, since: START - 600_000 })];
  for (let i = 0; i < readings; i++) {
    const at = START + 10_000 + i * 10_000;
    lines.push(message(at + 50, 'pump/de/reading', { device: 'SN', boot: 1, seq: i, count: i * 4, at }));
  }
  lines.splice(5, 0, message(START + 30_000, 'pump/nde/reading', { count: 1 }));
  return lines;
}

async function run(
  name: string,
  lines: readonly CaptureLine[],
  piece: number,
  under = plan,
): Promise<{
  figures: ReplayFigures;
  rows: unknown[];
  ledger: ReturnType<typeof proveLedger>;
  rollups: unknown[];
}> {
  const dataDir = join(folder, name);
  const store = openEngineStore({
    dataDir,
    plan: under,
    minCommitIntervalMs: 0,
    storage: { walBytesMax: 1e8, retention },
  });
  async function* pieces(): AsyncGenerator<CaptureLine[]> {
    for (let i = 0; i < lines.length; i += piece) yield lines.slice(i, i + piece);
  }
  const figures = await replay({ plan: under, core: CORE, store, lines: pieces() });
  store.close();
  const reader = openReader(dataDir);
  const all = { sensor: null, from: null, to: null };
  const rows = [...reader.increments(all)].flat();
  const rollups = reader
    .rollups({ ...all, limit: 1_000, cursor: null, period: '1m' })
    .items.map(({ revision: _, ...sums }) => sums);
  const ledger = proveLedger(reader, all);
  reader.close();
  return { figures, rows, ledger, rollups };
}

it('stores, classifies and balances what was recorded; what cannot be read is counted', async () => {
  const { figures, rows, ledger } = await run('plain', makeLines(100), 17);
  expect(figures).toMatchObject({
    lines: 102,
    readings: 100,
    refused: 1,
    from: START,
    to: START + 1_000_050,
  });
  expect(rows).toHaveLength(100);
  expect(
    ledger.map(({ sensor, balanced, counted, pending }) => ({ sensor, balanced, counted, pending })),
  ).toEqual([{ sensor: 'pump/de', balanced: true, counted: 396, pending: 0 }]);
  expect(rows.at(-1)).toMatchObject({ class: 'running', pulses: 4, ms: 10_000 });
});

it('comes to the same with tick lines as with ticks of its own', async () => {
  const lines = makeLines(60);
  const ticked: CaptureLine[] = lines.flatMap((line) => [line, { kind: 'tick', arrived: line.arrived }]);
  const last = lines.at(-1)!.arrived;
  for (let i = 1; i <= 24; i++) ticked.push({ kind: 'tick', arrived: last + i * 5_000 });
  const own = await run('own', lines, 1_000);
  const given = await run('given', ticked, 1_000);
  expect(given.rows).toEqual(own.rows);
  expect(given.rollups).toEqual(own.rollups);
});

it('judges the last reading of a sensor that reports each five minutes', async () => {
  const slow = makePlan(
    [motorPlan('pump')],
    [sensorPlan('pump', 'de', { intervalMs: 300_000, reorderWaitMs: 305_000 })],
  );
  const lines = [message(START, 'pump/drive/state', { state: 'running', at: START, since: START - 600_000 })];
  for (let i = 0; i < 4; i++) {
    const at = START + (i + 1) * 300_000;
    lines.push(message(at + 50, 'pump/de/reading', { device: 'SN', boot: 1, seq: i, count: i * 7, at }));
  }
  const { ledger, rows } = await run('slow', lines, 100, slow);
  expect(ledger).toMatchObject([{ counted: 21, pending: 0, balanced: true }]);
  expect(rows.at(-1)).toMatchObject({ class: 'running', pulses: 7, ms: 300_000 });
});

it('goes on where an earlier one ended', async () => {
  const lines = makeLines(60);
  const whole = await run('whole', lines, 1_000);
  const half = lines.length / 2;
  await run('halves', lines.slice(0, half), 1_000);
  const both = await run('halves', lines.slice(half), 1_000);
  expect(both.rows).toEqual(whole.rows);
  expect(both.ledger).toEqual(whole.ledger);
});

it('what a gateway recorded replays to what it stored', async () => {
  const rig = await startRig();
  const recorded: Recorded[] = [];
  rig.gateway.record((event) => recorded.push(event));
  const client = await rig.connect({ clientId: 'sn-1' });
  const at = Date.now();
  const state = JSON.stringify({ state: 'running', at, since: at - 60_000 });
  await client.publishAsync('workshop/in/pump-1/drive/state', state, { qos: 1, retain: true });
  for (let i = 0; i < 20; i++) await client.publishAsync(READING_TOPIC, reading(i, i * i), { qos: 1 });
  await client.publishAsync(READING_TOPIC, 'nonsense', { qos: 1 });
  client.stream.destroy();
  await new Promise((resolve) => setTimeout(resolve, 1_500));
  const store = rig.reader();
  const live = [...store.increments({ sensor: null, from: null, to: null })].flat();
  store.close();
  const { plan: own } = readConfigFile(join(rig.folder, 'site.yaml'));
  await rig.stop();
  expect(recorded.filter(({ kind }) => kind !== 'tick').map(({ kind }) => kind)).toEqual([
    'connect',
    ...Array.from({ length: 22 }, () => 'message'),
    'disconnect',
  ]);
  expect(recorded.some(({ kind }) => kind === 'tick')).toBe(true);
  const lines = recorded.map((event) => parseLine(formatLine(event)) as CaptureLine);
  const replayed = await run('recorded', lines, 5, own);
  expect(replayed.figures).toMatchObject({ readings: 20, refused: 1 });
  expect(replayed.rows).toEqual(live);
});

it('tells what operators were told of: an alarm that came and went within minutes is not over before it was known', async () => {
  const watched = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')], {
    conditionAlarms: [conditionAlarm('pump', 'de', { onDelayMs: 60_000 })],
  });
  const silent = (line: CaptureLine): boolean =>
    line.kind === 'message' && line.arrived > START + 600_000 && line.arrived < START + 1_200_000;
  await run(
    'told',
    makeLines(300).filter((line) => !silent(line)),
    1_000,
    watched,
  );
  const reader = openReader(join(folder, 'told'));
  const { items } = reader.journal({ from: null, to: null, limit: 100, cursor: null });
  reader.close();
  const told = items.filter(({ subject }) => subject === 'pump.de-no-readings');
  expect(told.slice(0, 2).map(({ what, annunciated }) => [what, annunciated])).toEqual([
    ['raised', true],
    ['returned', true],
  ]);
});
