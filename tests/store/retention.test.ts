/** Retention takes what is past its time, in slices, keeps what the core goes on from, and shrinks the file. */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { proveLedger } from '../../src/store/ledger.js';
import { openReader } from '../../src/store/reader.js';
import type { Retention } from '../../src/store/retention.js';
import { openStore, type Store } from '../../src/store/store.js';
import {
  balancedCounter,
  commit,
  increment,
  makeFolder,
  need,
  outputs,
  rollup,
  START,
} from './sample-rows.js';

const DAY = 86_400_000;
const KEEP: Retention = {
  incrementsDays: 1,
  windowsDays: 1,
  minutesDays: 400,
  tenMinutesDays: 1500,
  hoursDays: 7300,
  journalDays: 3,
  quarantineDays: 3,
  drivesDays: 2,
};

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

/** How many slices it took. */
function retainAll(now: number, keep = KEEP): number {
  let slices = 0;
  while (store.retain(now, keep) > 0) if ((slices += 1) > 10_000) throw new Error('it never ends');
  return slices;
}

const rowsOf = (sensor: string) =>
  store.answer(need({ increments: { sensor, fromTo: 0, toTo: 9e15 } })).increments;

describe('retention', () => {
  it('deletes in many small slices and gives the space back to the disk', () => {
    for (let chain = 1; chain <= 6; chain++)
      commit(store, balancedCounter(17_280, { sensor: `pump-${chain}/de`, chain }));
    store.checkpointWal();
    const before = statSync(join(folder.dir, 'tallypost.db')).size;
    const slices = retainAll(START + 2 * DAY);
    store.checkpointWal();
    const after = statSync(join(folder.dir, 'tallypost.db')).size;
    expect(slices).toBeGreaterThan(5);
    expect(rowsOf('pump-1/de')).toHaveLength(8640);
    expect(after).toBeLessThan(before * 0.75);
    expect(store.stats().freeBytes).toBeLessThanOrEqual(65 * 4096);
  });

  it('what is left of the ledger still balances, and the counter goes on', () => {
    commit(store, balancedCounter(17_280));
    retainAll(START + 2 * DAY);
    const reader = openReader(folder.dir);
    const [ledger] = proveLedger(reader, { sensor: null, from: null, to: null });
    expect(ledger!.faults).toEqual([]);
    expect(ledger!.counted).toBeGreaterThan(0);
    reader.close();
  });

  it('the newest readings and the drive state in force stay, however old', () => {
    commit(store, balancedCounter(500));
    const drive = (at: number) => ({
      ...{ motor: 'pump-1', at, since: null, state: 'running' as const, modulating: true, receivedAt: at },
      ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null },
    });
    commit(store, outputs({ drives: [drive(START), drive(START + 1), drive(START + 2)] }));
    retainAll(START + 900 * DAY);
    expect(rowsOf('pump-1/de').map((row) => row.seq)).toEqual(Array.from({ length: 80 }, (_, i) => 420 + i));
    expect(store.answer(need({ drives: { motors: ['pump-1'], from: 0, to: 9e15 } })).drives).toEqual([
      drive(START + 2),
    ]);
    const reader = openReader(folder.dir);
    expect(
      reader.rollups({ sensor: null, period: '1m', from: null, to: null, limit: 9, cursor: null }).items,
    ).toEqual([]);
    reader.close();
  });

  it('silent sensors do not keep others from their turn', () => {
    for (let i = 0; i < 70; i++) {
      const sensor = `old-${i}/de`;
      const chains = [{ id: 100 + i, sensor, device: 'x', boot: null }];
      commit(store, outputs({ chains, increments: [increment({ sensor, chain: 100 + i, to: START })] }));
    }
    commit(store, balancedCounter(17_280));
    retainAll(START + 2 * DAY);
    expect(rowsOf('pump-1/de')).toHaveLength(8640);
    expect(rowsOf('old-3/de')).toHaveLength(1);
  });

  it('a row that retention took may still be updated by a core that holds it: nothing comes back', () => {
    const out = balancedCounter(500);
    commit(store, out);
    retainAll(START + 900 * DAY);
    out.increments[3]!.class = 4;
    commit(store, outputs({ increments: [out.increments[3]!] }));
    expect(rowsOf('pump-1/de')).toHaveLength(80);
  });

  it('condition bins go with the rollups that they belong to, and a day with its hours', () => {
    const bins = [{ bin: 'speed ..600', pulses: 1, ms: 1 }];
    const rollups = (['1m', '10m', '1h'] as const).map((period) => rollup(1, 1, { period, bins }));
    commit(store, { ...balancedCounter(3), rollups });
    const tables = ['rollup_bin_1m', 'rollup_bin_10m', 'rollup_bin_1h', 'rollup_bin_1d'];
    const left = (now: number): number[] => {
      retainAll(now);
      const reader = openReader(folder.dir);
      const counts = tables.map((table) => reader.value(`SELECT count(*) FROM ${table}`) as number);
      reader.close();
      return counts;
    };
    expect(left(START + 390 * DAY)).toEqual([1, 1, 1, 1]);
    expect(left(START + 405 * DAY)).toEqual([0, 1, 1, 1]);
    expect(left(START + 1600 * DAY)).toEqual([0, 0, 1, 1]);
    expect(left(START + 7400 * DAY)).toEqual([0, 0, 0, 0]);
  });

  it('each table has its own time', () => {
    commit(
      store,
      outputs({
        chains: [{ id: 1, sensor: 'pump-1/de', device: 'a', boot: null }],
        rollups: (['1m', '10m', '1h'] as const).map((period) => rollup(1, 1, { period })),
        journal: [0, 1].map((i) => ({
          ...{ at: START + i * DAY, detectedAt: START, kind: 'notice' as const, subject: 's', from: '' },
          ...{
            to: '',
            who: '',
            text: 't',
            what: '' as const,
            annunciated: false,
            configuration: '',
            evidence: null,
          },
        })),
      }),
    );
    const left = (now: number) => {
      retainAll(now);
      const reader = openReader(folder.dir);
      const all = { from: null, to: null, limit: 10, cursor: null };
      const rollups = (['1m', '10m', '1h'] as const).map(
        (period) => reader.rollups({ ...all, sensor: null, period }).items.length,
      );
      const journal = reader.journal({ ...all, subject: 's' }).items.length; // beside what retention says itself
      reader.close();
      return [...rollups, journal];
    };
    expect(left(START + 2 * DAY)).toEqual([1, 1, 1, 2]);
    expect(left(START + 3.5 * DAY)).toEqual([1, 1, 1, 1]);
    expect(left(START + 405 * DAY)).toEqual([0, 1, 1, 0]);
    expect(left(START + 1600 * DAY)).toEqual([0, 0, 1, 0]);
  });
});
