/** Timed counts from the store: they add up to the ledger, and know when they are settled. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Class } from '../../src/core/words.js';
import { readNewestEnd } from '../../src/store/read-count.js';
import { openStore } from '../../src/store/store.js';
import { makeFolder } from './sample-rows.js';
import { commitBatch, factsOf, ledgersOf, planOf, restoreState, withReader } from './store-rig.js';

const known = { hasRunState: true, heartbeatMs: null, deadTimeS: 0 };
let folder: ReturnType<typeof makeFolder>;
beforeAll(() => {
  folder = makeFolder();
  const plan = planOf(1);
  const store = openStore(folder.dir);
  commitBatch(store, plan, restoreState(store, plan), factsOf(11, { minutes: 40 }));
  store.close();
});
afterAll(() => folder.remove());

describe('counts of adjoining times', () => {
  it.each(['pump-1/de', 'pump-1/nde'])('of %s add up to its ledger, class by class', (sensor) => {
    withReader(folder.dir, (reader) => {
      const ledger = ledgersOf(folder.dir).find((each) => each.sensor === sensor)!;
      const newest = readNewestEnd(reader, sensor)!;
      const pulses = new Array<number>(9).fill(0);
      const first = newest - 60 * 60_000;
      for (let from = first; from < newest; from += 47_000) {
        const count = reader.count({ sensor, from, to: Math.min(from + 47_000, newest), ...known });
        for (let cls = Class.rejected; cls <= Class.background; cls++)
          pulses[cls]! += count.sums.pulses[cls]!;
      }
      expect(pulses.slice(1, 8)).toEqual([1, 2, 3, 4, 5, 6, 7].map((cls) => ledger.pulses[cls]));
      expect(pulses.reduce((sum, each) => sum + each, 0)).toBeGreaterThan(500);
    });
  });

  it('are settled up to the newest reading that has its class, and not beyond', () => {
    withReader(folder.dir, (reader) => {
      const newest = readNewestEnd(reader, 'pump-1/de')!;
      const upTo = (to: number) =>
        reader.count({ sensor: 'pump-1/de', from: to - 60_000, to, ...known }).isSettled;
      expect([upTo(newest - 30_000), upTo(newest), upTo(newest + 60_000)]).toEqual([true, true, false]);
    });
  });

  it('have the run state beside them', () => {
    withReader(folder.dir, (reader) => {
      const newest = readNewestEnd(reader, 'pump-1/de')!;
      const { strip, covered } = reader.count({
        ...{ sensor: 'pump-1/de', from: newest - 600_000, to: newest, ...known },
      });
      expect(strip[0]?.from).toBe(covered?.from);
      expect(strip.at(-1)?.to).toBe(covered?.to);
      expect(strip.every(({ state }) => state !== 'unknown')).toBe(true);
    });
  });

  it('of a sensor that never was cover nothing', () => {
    withReader(folder.dir, (reader) => {
      const count = reader.count({ sensor: 'pump-7/de', from: 0, to: 60_000, ...known });
      expect([count.covered, readNewestEnd(reader, 'pump-7/de')]).toEqual([null, null]);
    });
  });
});
