/**
 * Wherever its rows lie, fresh, settled, or on the way from the one to the other, the table holds what a plain list holds:
 * through late rows, updates, removals, rollbacks and restarts, for the writer and for a reader beside it.
 */
import type Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Increment } from '../../src/core/rows.js';
import { Class } from '../../src/core/words.js';
import { IncrementTable } from '../../src/store/increment-table.js';
import { NameTable } from '../../src/store/names.js';
import { openDatabase, type Opened } from '../../src/store/open.js';
import { openReader } from '../../src/store/reader.js';
import { toIncrement } from '../../src/store/row-shapes.js';
import { Statements } from '../../src/store/statements.js';
import { openStore } from '../../src/store/store.js';
import { seeded } from '../support/little-plant.js';
import { balancedCounter, commit, increment, makeFolder, START, stored } from './sample-rows.js';
import { ledgersOf } from './store-rig.js';

let folder: ReturnType<typeof makeFolder>;
beforeEach(() => {
  folder = makeFolder();
});
afterEach(() => folder.remove());

const SENSORS = ['a/de', 'b/de', 'c/de', 'd/de', 'e/de'];
const SMALL = { rows: 16, most: 6, moved: 4 };

interface Rig {
  opened: Opened;
  db: Database.Database;
  ids: number[];
  table: IncrementTable;
}

function open(): Rig {
  const opened = openDatabase(folder.dir);
  const statements = new Statements(opened.db);
  const names = new NameTable(statements);
  const ids = SENSORS.map((name) => names.id(name));
  names.id('a motor in between');
  return { opened, db: opened.db, ids, table: new IncrementTable(statements, SMALL) };
}

type Model = Map<string, Increment>;
const keyOf = (row: Increment): string => `${row.sensor} ${row.to} ${row.chain} ${row.seq}`;

/** One transaction's worth of changes, to the table and to the model. */
function change(rig: Rig, model: Model, random: () => number, clock: number): void {
  const pick = (): number => Math.floor(random() * SENSORS.length);
  const rows = [...model.values()];
  for (let i = Math.floor(random() * 40); i > 0; i--) {
    const index = pick();
    const late = random() < 0.05 ? random() * 3e6 : random() * 20;
    const row = increment({ sensor: SENSORS[index]!, to: Math.floor(clock - late), seq: i, upMs: null });
    if (model.has(keyOf(row))) continue;
    rig.table.insert(rig.ids[index]!, row);
    model.set(keyOf(row), stored(row));
  }
  rig.table.flush();
  for (let i = Math.floor(random() * 20); i > 0 && rows.length > 0; i--) {
    const row = rows[Math.floor(random() * rows.length)]!;
    const changed = { ...row, class: Class.background, pulses: row.pulses + 1, from: row.from + 1 };
    rig.table.update(rig.ids[SENSORS.indexOf(row.sensor)]!, changed);
    model.set(keyOf(row), changed);
    if (random() > 0.1) continue;
    rig.table.remove(rig.ids[SENSORS.indexOf(row.sensor)]!, row);
    model.delete(keyOf(row));
    rows.splice(rows.indexOf(row), 1);
  }
}

function inOrder(model: Model, sensor: string, from: number, until: number): Increment[] {
  return [...model.values()]
    .filter((row) => row.sensor === sensor && row.to >= from && row.to < until)
    .sort((a, b) => a.to - b.to || a.seq! - b.seq!);
}

function compare(rig: Rig, model: Model, random: () => number, clock: number): void {
  const reader = openReader(folder.dir);
  expect(reader.value('SELECT count(*) FROM increment')).toBe(model.size);
  reader.close();
  SENSORS.forEach((sensor, i) => {
    const read = (from: number, until: number) =>
      rig.table.read(rig.ids[i]!, from, until).map((cells) => toIncrement(sensor, cells));
    expect(read(0, 9e15)).toEqual(inOrder(model, sensor, 0, 9e15));
    const from = Math.floor(clock - random() * 2000);
    const until = from + Math.floor(random() * 500);
    expect(read(from, until)).toEqual(inOrder(model, sensor, from, until));
    const seen = rig.db
      .prepare('SELECT to_ms, seq, pulses FROM increment WHERE sensor = ? ORDER BY to_ms, seq')
      .raw()
      .all(rig.ids[i]!);
    expect(seen).toEqual(inOrder(model, sensor, 0, 9e15).map((row) => [row.to, row.seq, row.pulses]));
  });
}

describe('the table of increments', () => {
  it.each([1, 2, 3])('holds what a plain list holds (seed %i)', (seed) => {
    const random = seeded(seed);
    let rig = open();
    let model: Model = new Map();
    let clock = START;
    for (let batch = 0; batch < 400; batch++) {
      clock += Math.floor(random() * 100);
      const before = new Map(model);
      rig.db.exec('BEGIN');
      change(rig, model, random, clock);
      rig.table.buckets.advance();
      if (random() < 0.15) {
        rig.db.exec('ROLLBACK');
        rig.table.reload();
        model = before;
      } else rig.db.exec('COMMIT');
      if (random() < 0.03) {
        rig.opened.close();
        rig = open();
      }
      if (batch % 10 === 0) compare(rig, model, random, clock);
    }
    compare(rig, model, random, clock);
    const count = (table: string) => rig.db.prepare(`SELECT count(*) FROM ${table}`).pluck().get() as number;
    expect(count('settled')).toBeGreaterThan(model.size / 2);
    expect(count('fresh')).toBeLessThan(1000);
    rig.opened.close();
  });

  it('two hundred thousand readings move on by themselves, and the ledger balances all the way', () => {
    const store = openStore(folder.dir);
    const all = SENSORS.map((sensor, i) => balancedCounter(45_000, { sensor, chain: i + 1 }));
    for (const out of all) commit(store, { ...out, increments: [] });
    let slowest = 0;
    for (let from = 0; from < 45_000; from += 300) {
      const startedAt = performance.now();
      const increments = all.flatMap((out) => out.increments.slice(from, from + 300));
      commit(store, { ...all[0]!, chains: [], segments: [], rollups: [], increments });
      slowest = Math.max(slowest, performance.now() - startedAt);
    }
    store.checkpointWal();
    const { databaseBytes } = store.stats();
    store.close();
    const reader = openReader(folder.dir);
    expect(reader.value('SELECT count(*) FROM increment')).toBe(225_000);
    expect(reader.value('SELECT count(*) FROM settled')).toBeGreaterThan(50_000);
    expect(reader.value('SELECT count(*) FROM settling')).toBeLessThan(2);
    reader.close();
    expect(ledgersOf(folder.dir).flatMap((ledger) => ledger.faults)).toEqual([]);
    expect(databaseBytes / 225_000).toBeLessThan(120);
    expect(slowest).toBeLessThan(2000);
  });
});
