/** Lives of bearings: which finding is of which bearing, and what was counted from one replacement to the next. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Finding, MaintenanceAction } from '../../src/core/maintenance-rows.js';
import { Class } from '../../src/core/words.js';
import { splitLives } from '../../src/store/bearing-lives.js';
import { openStore, type Store } from '../../src/store/store.js';
import { commit, makeFolder, outputs, rollup, START } from './sample-rows.js';
import { withReader } from './store-rig.js';

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const DAY_MS = 24 * HOUR_MS;

let nextId = 1;
function replaced(at: number, end: string, some: Partial<MaintenanceAction> = {}): MaintenanceAction {
  return {
    ...{
      id: nextId++,
      motor: 'pump-1',
      action: 'bearing-replaced',
      end,
      bearing: 'insulated',
      breaks: 'motor',
    },
    ...{ at, enteredAt: at, by: 'J', note: '', withdrawn: null },
    ...some,
  };
}

function found(at: number, removed: boolean, some: Partial<Finding> = {}): Finding {
  return {
    ...{ id: nextId++, motor: 'pump-1', end: 'de', removed, modes: [], signs: ['fluting'], lubricant: [] },
    ...{ at, enteredAt: at, by: 'J', note: '', withdrawn: null },
    ...some,
  };
}

const taken = { at: START, by: 'K', note: 'wrong' };
const ids = (rows: readonly { id: number }[]): number[] => rows.map(({ id }) => id);

describe('which bearing', () => {
  it('without a replacement there is one, as old as the data', () => {
    const finding = found(START, true);
    expect(splitLives('de', [], [finding])).toEqual([
      { replacement: null, removedAt: null, actions: [], findings: [finding] },
    ]);
  });

  it('a replacement at its end, or at both, ends a life; at the other end, or withdrawn, it does not', () => {
    const other = replaced(START + DAY_MS, 'nde');
    const both = replaced(START + 2 * DAY_MS, 'both');
    const undone = replaced(START + 3 * DAY_MS, 'de', { withdrawn: taken });
    const lives = splitLives('de', [other, both, undone], []);
    expect(lives.map((life) => [life.replacement?.id, life.removedAt, ids(life.actions)])).toEqual([
      [both.id, null, [both.id]],
      [undefined, both.at, [other.id]],
    ]);
    expect(splitLives('nde', [other, both], [])).toHaveLength(3);
    expect(splitLives('coupling', [other, both], [])).toHaveLength(1);
  });

  it.each([
    ['in the machine, before: the old one', START + 9 * DAY_MS, false, 1],
    ['in the machine, after: the new one', START + 11 * DAY_MS, false, 0],
    ['taken out, weeks after: the old one', START + 40 * DAY_MS, true, 1],
    ['taken out, the morning before the new one was fitted: the old one', START + 9.7 * DAY_MS, true, 1],
    ['taken out, long before: the one before that', START + 5 * DAY_MS, true, 2],
  ])('a bearing looked at %s', (_, at, removed, place) => {
    const replacements = [replaced(START, 'de'), replaced(START + 10 * DAY_MS, 'de')];
    const finding = found(at, removed);
    const lives = splitLives('de', replacements, [finding]);
    expect(lives.findIndex(({ findings }) => findings.includes(finding))).toBe(place);
    expect(lives.flatMap(({ findings }) => findings)).toHaveLength(1);
  });

  it('withdrawn findings and those of the other end are of none', () => {
    const findings = [found(START, false, { withdrawn: taken }), found(START, false, { end: 'nde' })];
    expect(splitLives('de', [], findings)[0]?.findings).toEqual([]);
  });

  it('what was done is in the life of its time, the replacement first', () => {
    const swap = replaced(START, 'de');
    const same = replaced(START, 'de', { action: 'regreased', bearing: null, id: 0 });
    const later = replaced(START + DAY_MS, 'de', { action: 'earthing-improved', end: null, bearing: null });
    const [now] = splitLives('de', [same, swap, later], []);
    expect(ids(now!.actions)).toEqual([swap.id, 0, later.id]);
  });
});

describe('what was counted', () => {
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

  /** Minutes of `hours` hours with one pulse more each; hours where they are over, all minutes kept from `keptFrom`. */
  function fill(hours: number, keptFrom = START): number[] {
    const minutes = Array.from({ length: hours * 60 }, (_, i) => i + 1);
    const rows = minutes.map((pulses, i) => rollup(pulses, MINUTE_MS, { start: START + i * MINUTE_MS }));
    rows[0]!.pulses[Class.transient] = 7;
    const sums = Array.from({ length: Math.floor(hours) }, (_, h) => {
      const pulses = minutes.slice(h * 60, (h + 1) * 60).reduce((sum, each) => sum + each, 0);
      const row = rollup(pulses, HOUR_MS, { period: '1h', start: START + h * HOUR_MS });
      if (h === 0) row.pulses[Class.transient] = 7;
      return row;
    });
    commit(store, outputs({ rollups: [...rows.filter(({ start }) => start >= keptFrom), ...sums] }));
    return minutes;
  }

  const livesOf = (position = 'de') =>
    withReader(folder.dir, (reader) => reader.bearingLives({ motor: 'pump-1', position }));

  it('without a replacement is everything, up to the newest minute', () => {
    const minutes = fill(3.5);
    expect(livesOf()).toMatchObject([
      {
        ...{ fittedAt: START, replacement: null, runningMs: 210 * MINUTE_MS, transientPulses: 7 },
        runningPulses: minutes.reduce((sum, each) => sum + each, 0),
        counted: { from: START, to: START + 3.5 * HOUR_MS },
      },
    ]);
  });

  it('is cut at the minute of the replacement, and nothing is counted twice', () => {
    const minutes = fill(5.25);
    const at = START + 100 * MINUTE_MS + 20_000;
    commit(store, outputs({ actions: [replaced(at, 'de')] }));
    const [now, before] = livesOf();
    const total = minutes.reduce((sum, each) => sum + each, 0);
    expect(now!.runningPulses + before!.runningPulses).toBe(total - minutes[100]!);
    expect(now).toMatchObject({ fittedAt: at, transientPulses: 0, runningMs: 214 * MINUTE_MS });
    expect(now!.counted).toEqual({ from: START + 101 * MINUTE_MS, to: START + 5.25 * HOUR_MS });
    expect(before!.counted).toEqual({ from: START, to: START + 100 * MINUTE_MS });
    expect(before).toMatchObject({ removedAt: at, transientPulses: 7 });
  });

  it('within one hour comes from minutes alone', () => {
    const minutes = fill(1);
    const [first, second] = [START + 10 * MINUTE_MS, START + 20 * MINUTE_MS];
    commit(store, outputs({ actions: [replaced(first, 'de'), replaced(second, 'de')] }));
    const lives = livesOf();
    expect(lives.map(({ runningMs }) => runningMs / MINUTE_MS)).toEqual([40, 10, 10]);
    expect(lives[1]!.runningPulses).toBe(minutes.slice(10, 20).reduce((sum, each) => sum + each, 0));
  });

  it('where the minutes are gone, begins with the first whole hour, and says so', () => {
    fill(6, START + 4 * HOUR_MS);
    const at = START + 90 * MINUTE_MS;
    commit(store, outputs({ actions: [replaced(at, 'de')] }));
    const [now, before] = livesOf();
    expect(now!.counted).toEqual({ from: START + 2 * HOUR_MS, to: START + 6 * HOUR_MS });
    expect(now!.runningMs).toBe(4 * HOUR_MS);
    expect(before!.counted).toEqual({ from: START, to: START + HOUR_MS });
  });

  it('at an end without a sensor is nothing, which is not zero pulses in some time', () => {
    fill(2);
    commit(store, outputs({ actions: [replaced(START, 'nde')] }));
    expect(livesOf('nde')[0]).toMatchObject({ fittedAt: START, counted: null, runningMs: 0 });
  });
});
