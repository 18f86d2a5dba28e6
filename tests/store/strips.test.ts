/** The strip of a day against the same sums made by hand from the stored rollups. */
import { describe, expect, it } from 'vitest';
import { makeDayStrip, stripFrom, STRIP_STEP_MS, STRIP_STEPS } from '../../src/core/day-strip.js';
import { Class } from '../../src/core/words.js';
import { readStrips } from '../../src/store/read-strips.js';
import { openStore } from '../../src/store/store.js';
import { makeFolder } from './sample-rows.js';
import { commitBatch, factsOf, planOf, restoreState, withReader } from './store-rig.js';

function msOf(each: Partial<Record<Class, number>>): number[] {
  return Array.from({ length: 8 }, (_, cls) => each[cls as Class] ?? 0);
}

describe('a strip', () => {
  it('has a rate where something ran, zero where nothing was counted, and none where nothing ran', () => {
    const strip = makeDayStrip('pump-1/de', [
      { step: 0, runningPulses: 30, ms: msOf({ [Class.running]: 120_000 }) },
      { step: 1, runningPulses: 0, ms: msOf({ [Class.running]: 600_000, [Class.background]: 500_000 }) },
      { step: 2, runningPulses: 0, ms: msOf({ [Class.background]: 1_200_000 }) },
    ]);
    expect(strip.rates.slice(0, 4)).toEqual([15, 0, null, null]);
    expect(strip.states.slice(0, 4)).toBe('rrs-');
    expect([strip.rates.length, strip.states.length]).toEqual([STRIP_STEPS, STRIP_STEPS]);
  });

  it('says what most of a stretch was, and does not take an unknown run state for standing', () => {
    const letters = makeDayStrip(
      'pump-1/de',
      [
        msOf({ [Class.transient]: 900, [Class.running]: 100 }),
        msOf({ [Class.unattributed]: 600, [Class.background]: 500 }),
        msOf({ [Class.common]: 700, [Class.background]: 500 }),
        msOf({ [Class.check]: 700, [Class.background]: 500 }),
        msOf({}),
      ].map((ms, step) => ({ step, runningPulses: 0, ms })),
    ).states;
    expect(letters.slice(0, 5)).toBe('turx-');
  });

  it('keeps pulses and exposure of the stretch that is not over, and lets go what lies outside of the day', () => {
    const strip = makeDayStrip('pump-1/de', [
      { step: -1, runningPulses: 9, ms: msOf({ [Class.running]: 60_000 }) },
      { step: STRIP_STEPS - 1, runningPulses: 7, ms: msOf({ [Class.running]: 30_000 }) },
      { step: STRIP_STEPS, runningPulses: 9, ms: msOf({ [Class.running]: 60_000 }) },
    ]);
    expect(strip.last).toEqual({ pulses: 7, ms: 30_000 });
    expect(strip.rates.filter((rate) => rate !== null)).toEqual([14]);
  });

  it('ends with the stretch that holds now, and begins on a whole one', () => {
    for (const now of [1_800_000_000_000, 1_800_000_000_001, 1_799_999_999_999]) {
      const from = stripFrom(now);
      expect(from % STRIP_STEP_MS).toBe(0);
      expect(now).toBeGreaterThanOrEqual(from + (STRIP_STEPS - 1) * STRIP_STEP_MS);
      expect(now).toBeLessThan(from + STRIP_STEPS * STRIP_STEP_MS);
    }
  });
});

describe('strips of a store', () => {
  it('are the sums of its 1 min rollups, sensor by sensor and stretch by stretch', () => {
    const folder = makeFolder();
    try {
      const plan = planOf(1);
      const store = openStore(folder.dir);
      commitBatch(store, plan, restoreState(store, plan), factsOf(11, { minutes: 90 }));
      store.close();
      withReader(folder.dir, (reader) => {
        const minutes = reader.rollups({
          ...{ sensor: null, period: '1m', from: null, to: null, limit: 10_000, cursor: null },
        }).items;
        const from = stripFrom(Math.max(...minutes.map(({ start }) => start)));
        const strips = readStrips(reader, from);
        expect(strips.map(({ sensor }) => sensor)).toEqual([...new Set(minutes.map(({ sensor }) => sensor))]);
        let seen = 0;
        for (const { sensor, rates } of strips) {
          for (const [step, rate] of rates.entries()) {
            const at = from + step * STRIP_STEP_MS;
            const rows = minutes.filter(
              (row) => row.sensor === sensor && row.start >= at && row.start < at + STRIP_STEP_MS,
            );
            const pulses = rows.reduce((sum, row) => sum + row.pulses[Class.running]!, 0);
            const ms = rows.reduce((sum, row) => sum + row.ms[Class.running]!, 0);
            expect(rate).toBe(ms === 0 ? null : Number(((pulses * 60_000) / ms).toPrecision(3)));
            if (rate !== null) seen += 1;
          }
        }
        expect(seen).toBeGreaterThan(4);
      });
    } finally {
      folder.remove();
    }
  });
});
