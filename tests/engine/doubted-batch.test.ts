/** Readings by which the gateway's clock is found to be wrong were dated by that clock: none of them is stored or acknowledged. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Clock } from '../../src/engine/clock.js';
import { CORE } from '../../src/engine/engine-core.js';
import { Engine } from '../../src/engine/engine.js';
import type { FrameBatch, FromEngine } from '../../src/engine/protocol.js';
import { openEngineStore } from '../../src/engine/store-adapter.js';
import { BatchWriter, FrameKind } from '../../src/intake/batch-writer.js';
import { openReader } from '../../src/store/reader.js';
import { readConfigFile, waitFor } from './gateway-rig.js';

const HOUR_MS = 3_600_000;
const MOTORS = [1, 2, 3];
const NAMES = ['client', ...MOTORS.map((motor) => `workshop/in/pump-${motor}/de/reading`)];
const PATIENCE_MS = 20_000;

const passed = { ms: 0 };
const now = (): number => Date.now() + passed.ms;
let folder: string;
let engine: Engine<unknown>;
let said: FromEngine[];

beforeEach(() => {
  passed.ms = 0;
  folder = mkdtempSync(join(tmpdir(), 'tallypost-'));
  const file = join(folder, 'site.yaml');
  writeFileSync(file, 'site: workshop\nmotors:\n  pump-{1..3}:\n    positions:\n      de: {}\n');
  const { config, plan } = readConfigFile(file);
  said = [];
  const clock = new Clock({ wall: now, monotonic: () => performance.now() + passed.ms });
  const store = openEngineStore({ dataDir: folder, plan, minCommitIntervalMs: 0, storage: config.storage });
  engine = new Engine({
    ...{ plan, core: CORE, clock, minCommitIntervalMs: 0 },
    openStore: () => store,
    post: (message) => void said.push(message),
  });
  engine.start();
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const count = (kind: FromEngine['kind']): number => said.filter((message) => message.kind === kind).length;

/** One reading of each motor, every 10 s up to now, by clocks that are an hour ahead of the gateway's. */
function batchOf(id: number, firstSeq: number, each: number): FrameBatch {
  const writer = new BatchWriter(1_024, null);
  const from = now() - 10_000 * each;
  for (let i = 1; i <= each; i++)
    for (const motor of MOTORS) {
      const receivedAt = from + 10_000 * i;
      const seq = firstSeq + i;
      const reading = { device: `SN-${motor}`, boot: 1, seq, at: receivedAt + HOUR_MS, count: 100 + seq };
      writer.add(FrameKind.publish, 0, receivedAt, 0, motor, Buffer.from(JSON.stringify(reading)));
    }
  const { buffer, length } = writer;
  return { id, buffer, length, count: each * MOTORS.length, names: NAMES, resetNames: true };
}

it('neither at once, nor when it tries again after a while', async () => {
  await waitFor('ready', () => count('ready') === 1, PATIENCE_MS);
  engine.receive({ kind: 'batch', batch: batchOf(1, 0, 4) });
  await waitFor('halted', () => count('halted') > 0, PATIENCE_MS);
  // what the devices said is forgotten by now, and they say it again
  passed.ms = 660_000;
  await waitFor('ready again', () => count('ready') === 2, PATIENCE_MS);
  const halts = count('halted');
  engine.receive({ kind: 'batch', batch: batchOf(2, 66, 1) });
  await waitFor('halted again', () => count('halted') > halts, PATIENCE_MS);
  expect(count('done')).toBe(0);
  // a person lets it pass: then they are taken
  engine.receive({ kind: 'call', id: 1, call: { do: 'trust-clock', who: 'a person' } });
  await waitFor('it goes on', () => count('ready') === 3, PATIENCE_MS);
  engine.receive({ kind: 'batch', batch: batchOf(3, 66, 1) });
  await waitFor('taken', () => count('done') === 1, PATIENCE_MS);
  engine.receive({ kind: 'call', id: 2, call: { do: 'stop' } });
  await waitFor('stopped', () => count('answer') === 2, PATIENCE_MS);
  const reader = openReader(folder);
  const rows = [...reader.increments({ sensor: null, from: null, to: null })].flat();
  reader.close();
  expect(rows.map((row) => row.seq)).toEqual([67, 67, 67]);
}, 60_000);
