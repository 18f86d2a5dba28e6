/** Records that version 1 of the checkpoints wrote, as the first release of the tables held them. */
import Database from 'better-sqlite3';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { migrate } from '../../src/store/migration.js';
import { MIGRATIONS } from '../../src/store/schema.js';

const folder = mkdtempSync(join(tmpdir(), 'checkpoints-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const sums = (running: number, ms: number, uncertainMs: number) => ({
  pulses: [0, 0, 0, 0, 0, 3, running, 1, 0],
  ms: [0, 0, 0, 0, 0, 30, ms, 10, 0],
  uncertainMs,
});
const day = { start: 86_400_000, ms: [0, 0, 0, 0, 0, 0, 3_549_678, 0, 0] };
const clock = { lastAt: 5, count: 1, least: 2, most: 3, inOrder: 4, off: true };

function migrateRecords(name: string, records: Record<string, unknown>): Record<string, unknown> {
  const db = new Database(join(folder, `${name}.db`));
  migrate(db, folder, MIGRATIONS.slice(0, 1));
  const insert = db.prepare('INSERT INTO checkpoint VALUES (?, 1, ?)');
  for (const [key, record] of Object.entries(records)) insert.run(key, JSON.stringify(record));
  migrate(db, folder);
  const rows = db.prepare('SELECT key, version, json FROM checkpoint ORDER BY key').all() as {
    key: string;
    version: number;
    json: string;
  }[];
  db.close();
  return Object.fromEntries(rows.map(({ key, version, json }) => [key, { version, ...JSON.parse(json) }]));
}

it('what changes by the hour moves to a record of its own; what is absent is left out', () => {
  const found = migrateRecords('plain', {
    core: { now: 7, nextChain: 3 },
    'motor:pump': { issuedTo: 9, dirty: null },
    'sensor:pump/de': {
      ...{ sweptTo: 600_000, minute: 540_000, tenMinutes: 0, hour: 0, evaluatedTo: 480_000 },
      ...{ dirty: null, unsettledFrom: null, vote: null, upAnchors: [], day },
      ...{ dispersion: 3.5, dispersionUncertain: false },
    },
    engine: { tick: 7 },
  });
  expect(found).toEqual({
    core: { version: 2, now: 7, nextChain: 3 },
    engine: { version: 1, tick: 7 },
    'motor:pump': { version: 2, issuedTo: 9, dirty: null },
    'hours:pump/de': {
      ...{ version: 2, day, dispersion: 3.5, dispersionUncertain: false },
      clock: { lastAt: 0, count: 0, least: 0, most: 0, inOrder: 0, off: false },
    },
    'sensor:pump/de': { version: 2, sweptTo: 600_000, minute: 540_000, evaluatedTo: 480_000, upAnchors: [] },
  });
});

it('open periods lose the open minute, which they now gain when it closes', () => {
  const found = migrateRecords('open', {
    'sensor:pump/de': {
      ...{ sweptTo: 600_000, minute: 540_000, tenMinutes: 0, hour: 0, evaluatedTo: 480_000 },
      ...{ dirty: { from: 1, to: 2 }, unsettledFrom: 4, vote: { from: 5, to: 6 }, upAnchors: [[1, 2]] },
      ...{ day, dispersion: 1, dispersionUncertain: true, clock },
      open: [sums(4, 400, 1), sums(11, 1_000, 3), sums(12, 1_100, 3)],
    },
  });
  const less = (running: number, ms: number, uncertainMs: number) => ({
    pulses: [0, 0, 0, 0, 0, 0, running, 0, 0],
    ms: [0, 0, 0, 0, 0, 0, ms, 0, 0],
    uncertainMs,
  });
  expect(found['hours:pump/de']).toMatchObject({ dispersionUncertain: true, clock });
  expect(found['sensor:pump/de']).toEqual({
    ...{ version: 2, sweptTo: 600_000, minute: 540_000, evaluatedTo: 480_000 },
    ...{ dirty: { from: 1, to: 2 }, unsettledFrom: 4, vote: [5, 6], upAnchors: [[1, 2]] },
    open: [sums(4, 400, 1), less(7, 600, 2), less(8, 700, 2)],
  });
});
