/** What hypotheses are made from: other classes, line supply, neighbours and notes on the device, read from the store. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { adviseOn, observeAll } from '../../src/advice/hypotheses.js';
import type { MotorEvidence, SensorEvidence } from '../../src/advice/evidence.js';
import type { FleetMotor } from '../../src/advice/fleet.js';
import { gatherEvidence } from '../../src/cli/query/evidence.js';
import { Class, Reason } from '../../src/core/words.js';
import { openDatabase } from '../../src/store/open.js';
import { openReader, type ReadStore } from '../../src/store/reader.js';
import { SUM_COLUMNS } from '../../src/store/schema.js';
import { writeCountedStore } from '../support/counted-store.js';

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const BEGIN = Date.UTC(2026, 1, 2);
const HOURS = 7 * 24;

const fleet: FleetMotor[] = ['pump-1', 'pump-2', 'pump-3'].map((motor, i) => ({
  motor,
  zone: i < 2 ? 'hall' : 'yard',
  dutyGroup: motor,
  positions: ['de'],
  powerKw: null,
  frameMm: 315,
}));

let folder = '';
let reader: ReadStore;
let evidence: SensorEvidence;

/** pump-1 stands for the first half of every hour and hears pump-2, which modulates in every second hour. */
function addOtherClasses(dir: string): void {
  const { db, close } = (() => {
    const opened = openDatabase(dir);
    return { db: opened.db, close: () => opened.close() };
  })();
  const idOf = (text: string): number =>
    db
      .prepare('INSERT INTO name (text) VALUES (?) ON CONFLICT DO UPDATE SET text = text RETURNING id')
      .pluck()
      .get(text) as number;
  const sensor = idOf('pump-1/de');
  const addRollup = (table: string, start: number, sums: Record<string, number>): void => {
    const cells = SUM_COLUMNS.map((column) => sums[column] ?? 0);
    const marks = ['?', '?', '?', ...cells.map(() => '?')].join(', ');
    db.prepare(`INSERT INTO ${table} VALUES (${marks})`).run(sensor, start, 0, ...cells);
  };
  const background = (pulses: number, ms: number) => ({
    [`p${Class.background}`]: pulses,
    [`m${Class.background}`]: ms,
  });
  db.transaction(() => {
    for (let h = 0; h < HOURS; h++) {
      const start = BEGIN + h * HOUR_MS;
      const isOn = h % 2 === 1;
      for (let m = 0; m < 30; m++)
        addRollup('rollup_1m', start + m * MINUTE_MS, background(isOn ? 60 : 3, MINUTE_MS));
      addRollup('rollup_1h', start, {
        ...background(30 * (isOn ? 60 : 3), 30 * MINUTE_MS),
        [`p${Class.common}`]: 100,
        [`p${Class.rejected}`]: h === 5 ? 40 : 0,
      });
      db.prepare(`INSERT INTO drive_message VALUES (?, ?, ?, ?, ?, NULL, NULL, NULL, NULL, ?)`).run(
        idOf('pump-2'),
        start,
        start,
        isOn ? 'running' : 'stopped',
        isOn ? 1 : 0,
        start,
      );
    }
    const addIncrement = db.prepare(
      `INSERT INTO increment (sensor, to_ms, chain, seq, duration, count, pulses, class, reason, flags)
       VALUES (?, ?, 1, ?, 10000, 0, ?, ?, ?, 0)`,
    );
    for (let i = 0; i < 60; i++) {
      addIncrement.run(
        sensor,
        BEGIN + HOUR_MS + 10_000 * i,
        i,
        7,
        Class.unattributed,
        Reason.runningWithoutModulation,
      );
      addIncrement.run(
        sensor,
        BEGIN + 2 * HOUR_MS + 10_000 * i,
        100 + i,
        99,
        Class.unattributed,
        Reason.tooLong,
      );
    }
    const addDiagnostic = db.prepare('INSERT INTO diagnostic VALUES (?, ?, ?, ?, ?, ?)');
    addDiagnostic.run(
      'pump-1/de',
      'conflict',
      3,
      BEGIN,
      BEGIN + HOUR_MS,
      'two readings claim the same place',
    );
    addDiagnostic.run('pump-1/de', 'duplicate', 9, BEGIN, BEGIN + HOUR_MS, 'the same reading came again');
    addDiagnostic.run('pump-1/de', 'clock-off', 1, 0, BEGIN - HOUR_MS, 'long ago');
  })();
  close();
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-evidence-'));
  const dir = join(folder, 'data');
  const at = () => ({ perS: 1, bin: 'all' });
  writeCountedStore(dir, {
    sensors: [{ sensor: 'pump-1/de', at }],
    from: BEGIN,
    hours: HOURS,
    phi: 1,
    seed: 3,
  });
  addOtherClasses(dir);
  reader = openReader(dir);
  evidence = gatherEvidence(reader, fleet, fleet[0]!).sensors[0]!;
});
afterAll(() => {
  reader.close();
  rmSync(folder, { recursive: true, force: true });
});

describe('evidence from the store', () => {
  it('background has its own rate, its limits as wide as its hours differ', () => {
    const { background, running } = evidence;
    expect(background).toMatchObject({ ms: HOURS * 30 * MINUTE_MS, pulses: (HOURS / 2) * 30 * 63 });
    expect(background?.perS).toBeCloseTo(63 / 120, 6);
    // hours alternate between 90 and 1,800 pulses: nothing like a Poisson count
    expect(background!.upperPerS / background!.lowerPerS).toBeGreaterThan(1.2);
    expect(running!.upperPerS / running!.lowerPerS).toBeLessThan(1.02);
  });

  it('line supply is what ran without modulation, and nothing else that is unattributed', () => {
    expect(evidence.bypass).toMatchObject({ pulses: 420, ms: 600_000 });
    expect(evidence.bypass?.perS).toBeCloseTo(0.7, 6);
  });

  it('background is compared between the states of a neighbour in the same zone, away from its edges', () => {
    expect(evidence.neighbours.map(({ motor }) => motor)).toEqual(['pump-2']);
    const [neighbour] = evidence.neighbours;
    expect(neighbour?.ratio).toBeCloseTo(20, 6);
    expect(neighbour!.lower).toBeGreaterThan(15);
  });

  it('what was noted about the device counts, what is usual or long ago does not', () => {
    expect(evidence.faults).toEqual([
      'two readings claim the same place (3 times)',
      '40 pulses were rejected as implausible',
    ]);
    expect(evidence.commonPulses).toBe(100 * HOURS);
  });

  it('makes a list headed by what needs no inverter: counts stay on line supply, and background follows a neighbour', () => {
    const motor: MotorEvidence = { ...gatherEvidence(reader, fleet, fleet[0]!), actions: [] };
    const known = new Map(observeAll(motor).map(({ id, value }) => [id, value]));
    expect([known.get('neighbour'), known.get('size'), known.get('device')]).toEqual([
      'follows',
      'large',
      'faults',
    ]);
    const order = adviseOn(motor).hypotheses.map(({ mechanism }) => mechanism);
    expect(order[0]).toBe('line-asymmetry');
    expect(order.indexOf('interference')).toBeLessThan(order.indexOf('film-discharge'));
  });

  it('a motor of which nothing is stored has no evidence, and no figures made up', () => {
    const [sensor] = gatherEvidence(reader, fleet, fleet[2]!).sensors;
    expect(sensor).toMatchObject({
      running: null,
      background: null,
      bypass: null,
      sisters: null,
      neighbours: [],
    });
  });
});
