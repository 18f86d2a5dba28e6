/** Readings whose device learns the time late: the run time since power-up dates what still waits. As step tables. */
import { describe, expect, it } from 'vitest';
import type { Fact, ReadingFact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { Class, Flag } from '../../src/core/words.js';
import { feed, T0, type Line } from '../support/fed-readings.js';
import { findImbalances } from '../support/final.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

/** Taken at that second, with a clock that began in 1970; it arrives `late` seconds after it was taken. */
function undated(second: number, count: number, late: number, more: Partial<ReadingFact> = {}): Line {
  const upMs = second * 1000 + 5000;
  return [second, count, { at: upMs, upMs, receivedAt: T0 + (second + late) * 1000, ...more }];
}

/** The same with a clock that is right. */
function dated(second: number, count: number, more: Partial<ReadingFact> = {}): Line {
  return [second, count, { upMs: second * 1000 + 5000, ...more }];
}

const NOT_GOOD = Flag.noAt | Flag.uncertain | Flag.clockOff;

describe('a clock that is put right', () => {
  it('dates what waits by the run time', () => {
    const { pulses, rows, diagnostics } = feed([
      undated(0, 100, 7),
      undated(10, 110, 3),
      undated(20, 130, 9),
      dated(30, 160),
      dated(40, 170),
    ]);
    expect(pulses).toEqual(['0..10: 10', '10..20: 20', '20..30: 30', '30..40: 10']);
    expect(rows.filter((row) => (row.flags & NOT_GOOD) !== 0)).toEqual([]);
    expect(diagnostics['clock-mended']).toBe(1);
  });

  it('dates the readings of a backlog that all came at once, in a chain with boot numbers and in one without', () => {
    for (const boot of [1, null]) {
      const { pulses, unknown } = feed([
        ...Array.from({ length: 6 }, (_, i) => undated(10 * i, 10 * i, 90 - 10 * i, { boot })),
        dated(90, 100, { boot }),
      ]);
      expect(pulses.slice(0, 5)).toEqual([
        '0..10: 10',
        '10..20: 10',
        '20..30: 10',
        '30..40: 10',
        '40..50: 10',
      ]);
      expect(pulses[5]).toBe('50..90: 50');
      expect(unknown).toEqual([]);
    }
  });

  it('leaves what is classified where it was told, and loses no pulse at the seam', () => {
    const lines = [
      ...Array.from({ length: 30 }, (_, i) => undated(10 * i, 10 * i, 4)),
      dated(300, 300),
      dated(310, 310),
    ];
    const { rows } = feed(lines);
    expect(rows.reduce((sum, row) => sum + row.pulses, 0)).toBe(310);
    const uncertain = rows.filter((row) => (row.flags & Flag.noAt) !== 0);
    const mended = rows.filter((row) => row.seq! < 30 && (row.flags & Flag.noAt) === 0);
    expect(uncertain.map((row) => row.to)).toEqual(uncertain.map((row) => T0 + row.seq! * 10_000 + 4000));
    expect(mended.length).toBeGreaterThan(1);
    expect(mended.map((row) => row.to)).toEqual(mended.map((row) => T0 + row.seq! * 10_000));
    expect(uncertain.at(-1)!.seq).toBe(mended[0]!.seq! - 1);
  });

  it('dates a new boot from its power-up on, and what is unknowable before it', () => {
    const { pulses, unknown } = feed([
      [0, 100, { upMs: 900_000 }],
      [10, 110, { upMs: 910_000 }],
      undated(60, 7, 9, { boot: 2, seq: 0, at: 1000, upMs: 4000 }),
      undated(70, 17, 5, { boot: 2, seq: 1, at: 11_000, upMs: 14_000 }),
      [80, 27, { boot: 2, seq: 2, upMs: 24_000 }],
    ]);
    expect(pulses).toEqual(['0..10: 10', '56..60: 7', '60..70: 10', '70..80: 10']);
    expect(unknown).toEqual(['power-cut 10..56: 0 to 2300001']);
  });

  it('does not reach over a restart that only the run time shows', () => {
    const { rows } = feed([
      undated(0, 100, 2, { boot: null }),
      undated(10, 110, 2, { boot: null }),
      undated(40, 5, 2, { boot: null, seq: 0, at: 4000, upMs: 4000 }),
      dated(50, 15, { boot: null, seq: 1, upMs: 14_000 }),
    ]);
    expect(rows.map((row) => (row.to - T0) / 1000)).toEqual([2, 12, 40, 50]);
  });

  it('a time ahead of its arrival mends nothing', () => {
    const { rows, diagnostics } = feed([
      undated(0, 0, 2),
      undated(10, 10, 2),
      dated(20, 20, { at: T0 + 80_000, receivedAt: T0 + 20_100 }),
    ]);
    expect(rows.map((row) => (row.to - T0) / 1000)).toEqual([2, 12, 80]);
    expect(diagnostics['clock-mended']).toBeUndefined();
  });
});

it('mended rows that lie in windows long passed are judged there, with and without restarts', () => {
  const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')]);
  for (const restarts of [false, true]) {
    const store = new MemoryStore();
    let state = openState(plan, null);
    let batches = 0;
    const put = (...facts: Fact[]): void => {
      runBatch(plan, state, store, facts);
      batches += 1;
      // less often than a look at the past waits
      if (restarts && batches % 20 === 0) state = reopen(plan, store);
    };
    const drive: Fact = {
      ...{ kind: 'drive', motor: 'pump', state: 'running', modulating: true, at: T0, since: T0 - 600_000 },
      ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt: T0 },
    };
    const reading = (second: number, at: number | null, receivedAt: number): Fact => ({
      ...{ kind: 'reading', sensor: 'pump/de', device: 'SN-1', count: second, at, seq: second / 10, boot: 1 },
      ...{ upMs: second * 1000, temperatureC: null, check: false, receivedAt },
    });
    put({ kind: 'tick', now: T0 }, drive);
    for (let second = 1; second <= 600; second += 1) put({ kind: 'tick', now: T0 + second * 1000 });
    const late = T0 + 600_500;
    for (let second = 0; second <= 590; second += 10) put(reading(second, second * 1000, late));
    put(reading(600, T0 + 600_000, late));
    for (let second = 601; second <= 900; second += 1) put({ kind: 'tick', now: T0 + second * 1000 });
    expect(findImbalances(store)).toEqual([]);
    const rows = store.sortedIncrements('pump/de').slice(1);
    expect(rows.map((row) => [row.from, row.to, row.class])).toEqual(
      rows.map((_, i) => [T0 + i * 10_000, T0 + (i + 1) * 10_000, Class.running]),
    );
    const minutes = [...store.rollups.values()].filter(({ period }) => period === '1m');
    expect(minutes.reduce((sum, row) => sum + row.pulses[Class.running]!, 0)).toBe(600);
  }
});
