/** Every kind of row comes back as it went in, through answers and readers, and after a restart. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Class, Flag, Reason } from '../../src/core/words.js';
import type { DriveRow, Transient } from '../../src/core/rows.js';
import { openReader } from '../../src/store/reader.js';
import { openStore, type Store } from '../../src/store/store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import {
  alarm,
  balancedCounter,
  commit,
  EVIDENCE,
  increment,
  makeFolder,
  need,
  outputs,
  segment,
  START,
  stored,
} from './sample-rows.js';

let folder: ReturnType<typeof makeFolder>;
let store: Store;
beforeEach(() => {
  folder = makeFolder();
  store = openStore(folder.dir);
});
afterEach(() => {
  store.close();
  folder.remove();
});

const everything = { from: null, to: null, limit: 1000, cursor: null };

describe('increments', () => {
  const extremes = [
    increment({
      to: START,
      from: START,
      seq: null,
      count: 0,
      pulses: 0,
      class: Class.none,
      flags: Flag.anchor,
    }),
    increment({ to: START + 1, from: START, seq: 0, count: 2 ** 53 - 1, upMs: 2 ** 45, pulses: 2 ** 52 }),
    increment({
      to: START + 2,
      from: START + 5000,
      seq: 4_294_967_295,
      class: Class.unattributed,
      reason: Reason.clockStep,
      flags: Flag.uncertain | Flag.wrapped,
    }),
    increment({ to: START + 3, seq: 2 ** 50, chain: 2, class: Class.pending }),
  ];

  it('come back with their extremes, in order, half-open', () => {
    commit(store, outputs({ increments: [...extremes].reverse() }));
    const ask = (fromTo: number, toTo: number) =>
      store.answer(need({ increments: { sensor: 'pump-1/de', fromTo, toTo } })).increments;
    expect(ask(START, START + 4)).toEqual(extremes.map(stored));
    expect(ask(START + 1, START + 3)).toEqual(extremes.slice(1, 3).map(stored));
    expect(
      store.answer(need({ increments: { sensor: 'no/one', fromTo: 0, toTo: 9e15 } })).increments,
    ).toEqual([]);
  });

  it('are marked as stored, updated in place from then on, and removed by key', () => {
    const row = increment({ class: Class.pending });
    commit(store, outputs({ increments: [row] }));
    expect(row.stored).toBe(true);
    Object.assign(row, {
      class: Class.transient,
      reason: Reason.coupledDrive,
      pulses: 2,
      from: row.to - 4000,
    });
    commit(store, outputs({ increments: [row] }));
    const ask = () =>
      store.answer(need({ increments: { sensor: row.sensor, fromTo: 0, toTo: 9e15 } })).increments;
    expect(ask()).toEqual([row]);
    commit(store, outputs({ removedIncrements: [row] }));
    expect(ask()).toEqual([]);
  });

  it('a second insertion of one key is refused, and takes the batch with it', () => {
    commit(store, outputs({ increments: [increment()] }));
    store.begin();
    expect(() => store.apply(outputs({ increments: [increment({ count: 7 })] }))).toThrow(/UNIQUE/);
    store.rollback();
    const { increments } = store.answer(need({ increments: { sensor: 'pump-1/de', fromTo: 0, toTo: 9e15 } }));
    expect(increments).toEqual([stored(increment())]);
  });
});

const drive = (at: number, some: Partial<DriveRow> = {}): DriveRow => ({
  motor: 'pump-1',
  at,
  since: null,
  state: 'running',
  modulating: true,
  speedRpm: 1480.5,
  loadPct: null,
  switchingKhz: 4,
  dcLinkV: 565,
  receivedAt: at + 20,
  ...some,
});

describe('drives', () => {
  it('messages and presences in a range come with the last before it; an equal time replaces', () => {
    const rows = [
      drive(START),
      drive(START + 10),
      drive(START + 20, { state: 'stopped', modulating: false }),
    ];
    const presences = [5, 15, 25].map((ms) => ({ motor: 'pump-1', at: START + ms, online: ms !== 15 }));
    commit(store, outputs({ drives: rows, presences }));
    const newer = drive(START + 10, { state: 'fault', since: START + 9 });
    commit(store, outputs({ drives: [newer] }));
    const ask = (from: number, to: number) =>
      store.answer(need({ drives: { motors: ['pump-1', 'pump-2'], from: START + from, to: START + to } }));
    expect(ask(15, 20).drives).toEqual([newer]);
    expect(ask(15, 21).drives).toEqual([newer, rows[2]]);
    expect(ask(-10, 5).drives).toEqual([rows[0]]);
    expect(ask(15, 25).presences).toEqual(presences.slice(0, 2));
    const reader = openReader(folder.dir);
    expect(reader.drives()).toEqual([{ ...rows[2], absentFrom: null }]);
    const left = [30, 40].map((ms) => ({ motor: 'pump-1', at: START + ms, online: false }));
    commit(store, outputs({ presences: left }));
    expect(reader.drives()).toEqual([{ ...rows[2], absentFrom: START + 30 }]);
    reader.close();
  });
});

describe('transients, bursts and votes', () => {
  const transient = (from: number, to: number): Transient => ({
    motor: 'pump-1',
    from: START + from,
    to: START + to,
    edges: 2,
    kind: 'start',
    counts: [
      { sensor: 'pump-1/de', pulses: 12, ms: 20_000 },
      { sensor: 'pump-1/nde', pulses: 0, ms: 0 },
    ],
  });

  it('transients are found by overlap; touching is not overlapping', () => {
    const rows = [transient(0, 100), transient(200, 300), transient(400, 500)];
    commit(store, outputs({ transients: rows }));
    const ask = (from: number, to: number) =>
      store.answer(need({ transients: { motor: 'pump-1', from: START + from, to: START + to } })).transients;
    expect(ask(100, 200)).toEqual([]);
    expect(ask(99, 201)).toEqual(rows.slice(0, 2));
    expect(ask(450, 460)).toEqual(rows.slice(2));
    commit(store, outputs({ removedTransients: [rows[0]!], transients: [{ ...rows[1]!, edges: 4 }] }));
    expect(ask(0, 500)).toEqual([{ ...rows[1]!, edges: 4 }, rows[2]]);
  });

  it('bursts and votes of a zone are found by overlap, long ones among many short ones too', () => {
    const burst = (from: number, to: number, zone = 'hall') => ({
      ...{ zone, motor: 'pump-1', sensor: 'pump-1/de', window: START },
      ...{ from: START + from, to: START + to },
    });
    const vote = (from: number, to: number) => ({
      ...{ zone: 'hall', motor: 'pump-1', sensor: 'pump-1/de', from: START + from, to: START + to },
    });
    const bursts = [burst(0, 10), burst(5, 1000), burst(10, 20), burst(30, 40)];
    const votes = [vote(0, 500), vote(600, 700)];
    commit(store, outputs({ bursts: [...bursts, burst(0, 1000, 'yard')], votes }));
    const ask = (from: number, to: number) =>
      store.answer(need({ zone: { zone: 'hall', from: START + from, to: START + to } }));
    const byFrom = (rows: { from: number }[]) => [...rows].sort((a, b) => a.from - b.from);
    expect(byFrom(ask(10, 20).bursts)).toEqual([bursts[1], bursts[2]]);
    expect(byFrom(ask(500, 600).bursts)).toEqual([bursts[1]]);
    expect(ask(500, 600).votes).toEqual([]);
    expect(ask(499, 601).votes).toEqual(votes);
    commit(
      store,
      outputs({ removedBursts: [bursts[1]!], removedVotes: [votes[0]!], votes: [vote(600, 900)] }),
    );
    expect(ask(0, 1000).bursts).toHaveLength(3);
    expect(ask(0, 1000).votes).toEqual([vote(600, 900)]);
  });
});

describe('records', () => {
  it('alarms, journal, diagnostics and checkpoints', () => {
    const entry = {
      ...{ at: START, detectedAt: START + 5, kind: 'alarm' as const, subject: 'pump-1.de-rate-high' },
      ...{ from: 'normal', to: 'unacknowledged', who: '', text: 'raised — über', evidence: EVIDENCE },
      ...{ what: 'raised' as const, annunciated: true, configuration: 'a1b2c3' },
    };
    const diagnostic = (at: number, detail: string) => ({
      subject: 'pump-1/de',
      kind: 'duplicate',
      at,
      detail,
    });
    commit(
      store,
      outputs({
        alarms: [alarm()],
        journal: [entry, { ...entry, evidence: null }],
        diagnostics: [diagnostic(START + 5, 'seq 4'), diagnostic(START, 'seq 3')],
        checkpoints: [{ key: 'core', version: 1, json: '{"now":1}' }],
      }),
    );
    commit(store, outputs({ alarms: [alarm({ acknowledged: true, note: "it's seen" })] }));
    const reader = openReader(folder.dir);
    expect(reader.alarms()).toEqual([alarm({ acknowledged: true, note: "it's seen" })]);
    expect(reader.journal(everything).items).toEqual([entry, { ...entry, evidence: null }]);
    expect(reader.diagnostics()).toEqual([
      {
        subject: 'pump-1/de',
        kind: 'duplicate',
        count: 2,
        firstAt: START,
        lastAt: START + 5,
        detail: 'seq 3',
      },
    ]);
    reader.close();
  });

  it('quarantine keeps the head of a payload, whatever its size', () => {
    const bytes = new Uint8Array(70_000).fill(65);
    const row = { at: START, reason: 'not JSON', topic: 't'.repeat(60_000), client: 'c', size: 70_000 };
    store.begin();
    store.quarantine([{ ...row, firstBytes: bytes }]);
    store.commit();
    const reader = openReader(folder.dir);
    const [found] = reader.quarantine(everything).items;
    expect(found).toMatchObject({ at: START, reason: 'not JSON', client: 'c', size: 70_000 });
    expect([...found!.firstBytes]).toEqual([...bytes.subarray(0, 256)]);
    expect(found!.topic.length).toBeLessThan(1000);
    reader.close();
  });

  it('small texts under names', () => {
    expect(store.getMeta('site')).toBeNull();
    store.begin();
    store.setMeta('site', 'tarn-hollow');
    store.commit();
    expect(store.getMeta('site')).toBe('tarn-hollow');
  });
});

describe('after a restart', () => {
  const plan = makePlan([motorPlan('pump-1')], [sensorPlan('pump-1', 'de')]);

  it('the core gets the last 80 readings at least, and all within its reach', () => {
    commit(store, balancedCounter(500));
    const count = (reachMs: number) => store.restore(plan, reachMs).increments.get('pump-1/de')!.length;
    expect(count(0)).toBe(80);
    expect(count(3_600_000)).toBe(361);
    expect(count(1e12)).toBe(500);
  });

  it('everything is there again', () => {
    const spread = {
      ...{ sensor: 'pump-1/de', hour: START, bin: 'speed 600..', pulses: 9, ms: 3_600_000 },
      ...{ q: [1.5, 0.1 + 0.2, 1e-9, 7] as [number, number, number, number] },
      ...{ k: [360, 60, 6, 1] as [number, number, number, number] },
    };
    const out = balancedCounter(20);
    out.spreads.push(spread);
    out.drives.push(drive(START));
    out.presences.push({ motor: 'pump-1', at: START + 7, online: true });
    out.alarms.push(alarm());
    out.checkpoints.push({ key: 'core', version: 1, json: '{}' });
    commit(store, out);
    store.close();
    store = openStore(folder.dir);
    const restored = store.restore(plan, 1e12);
    expect(restored.increments.get('pump-1/de')).toEqual(out.increments.map(stored));
    expect(restored.chains).toEqual(out.chains);
    expect(restored.segments).toEqual(out.segments);
    expect(restored.spreads).toEqual([spread]);
    expect(restored.drives.get('pump-1')).toEqual(out.drives);
    expect(restored.presences.get('pump-1')).toEqual(out.presences);
    expect(restored.alarms).toEqual([alarm()]);
    expect(restored.checkpoints).toEqual([{ key: 'core', version: 1, json: '{}' }]);
  });

  it('segments with what is unknowable before them', () => {
    const unknown = segment({
      ...{ openedBy: 'boot', unknownReason: 'power-cut', unknownFrom: START, unknownTo: START + 9 },
      ...{ unknownLow: 3, unknownHigh: 900, wraps: 2, modulus: 65_536 },
    });
    commit(store, outputs({ segments: [unknown] }));
    const ask = () => store.answer(need({ segments: { sensor: 'pump-1/de', chain: 1 } })).segments;
    expect(ask()).toEqual([unknown]);
    const moved = { ...unknown, startTo: START + 5 };
    commit(store, outputs({ removedSegments: [unknown], segments: [moved] }));
    expect(ask()).toEqual([moved]);
  });
});
