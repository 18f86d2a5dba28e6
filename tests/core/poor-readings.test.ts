/** Readings that carry little: no time, no boot number, a boot number that never changes. As step tables. */
import { describe, expect, it } from 'vitest';
import type { ReadingFact } from '../../src/core/facts.js';
import { clockErrorOf, Flag } from '../../src/core/words.js';
import { feed, T0, type Line } from '../support/fed-readings.js';

const timeless = { at: null, boot: null, upMs: null };

/** A reading that carries no time and arrives at that second. */
function arriving(second: number, count: number, more: Partial<ReadingFact>): Line {
  return [second, count, { ...timeless, receivedAt: T0 + second * 1000, ...more }];
}

describe('readings without a time of their own', () => {
  it('a restart that only the run time shows begins a new segment, and nothing after it is lost', () => {
    const { pulses, unknown, diagnostics } = feed([
      arriving(0, 100, { seq: 50, upMs: 500_000 }),
      arriving(10, 110, { seq: 51, upMs: 510_000 }),
      arriving(40, 5, { seq: 0, upMs: 4_000 }),
      arriving(50, 15, { seq: 1, upMs: 14_000 }),
      arriving(60, 25, { seq: 2, upMs: 24_000 }),
    ]);
    expect(pulses).toEqual(['0..10: 10', '40..50: 10', '50..60: 10']);
    expect(unknown).toEqual(['reset 10..40: 5 to 1500001']);
    expect(diagnostics['late-without-time']).toBeUndefined();
  });

  it('a first message that was held up makes no later one older than its arrival', () => {
    const { rows } = feed([
      arriving(12, 0, { seq: 0, upMs: 1_000 }),
      arriving(20, 10, { seq: 1, upMs: 11_000 }),
      arriving(30, 20, { seq: 2, upMs: 21_000 }),
    ]);
    expect(rows.map((row) => (row.to - T0) / 1000)).toEqual([12, 20, 30]);
  });

  it('an oscillator that is slow is followed', () => {
    const lines = Array.from({ length: 500 }, (_, i) =>
      arriving(10 * i, i, { seq: i, upMs: Math.round(10_000 * i * (1 - 1e-4)) }),
    );
    const { rows } = feed(lines);
    expect(Math.abs(rows.at(-1)!.to - (T0 + 10_000 * 499))).toBeLessThan(20);
  });

  it('a reading that another overtook is dropped, not counted again', () => {
    const { pulses, unknown, diagnostics } = feed([
      arriving(0, 0, { seq: 0 }),
      arriving(10, 10, { seq: 1 }),
      arriving(20, 30, { seq: 3 }),
      arriving(21, 20, { seq: 2 }),
      arriving(30, 40, { seq: 4 }),
    ]);
    expect(pulses).toEqual(['0..10: 10', '10..20: 20', '20..30: 10']);
    expect(unknown).toEqual([]);
    expect(diagnostics['late-without-time']).toBe(1);
  });

  it('a reading that came again is no restart', () => {
    const { pulses, unknown, diagnostics } = feed([
      arriving(0, 0, { seq: 0 }),
      arriving(10, 10, { seq: 1 }),
      arriving(20, 20, { seq: 2 }),
      arriving(21, 10, { seq: 1 }),
      arriving(30, 30, { seq: 3 }),
    ]);
    expect(pulses).toEqual(['0..10: 10', '10..20: 10', '20..30: 10']);
    expect(unknown).toEqual([]);
    expect(diagnostics['duplicate']).toBe(1);
  });

  it('a sequence that falls with a count that fits nowhere is a restart', () => {
    const { pulses, unknown } = feed([
      arriving(0, 100, { seq: 7 }),
      arriving(10, 110, { seq: 8 }),
      arriving(20, 3, { seq: 0 }),
      arriving(30, 9, { seq: 1 }),
    ]);
    expect(pulses).toEqual(['0..10: 10', '20..30: 6']);
    expect(unknown).toEqual(['reset 10..20: 3 to 500001']);
  });
});

describe('a new boot whose clock begins in 1970', () => {
  const life = (boot: number, at: number | null): Line[] =>
    [0, 1, 2].map((i) => [
      100 * boot + 10 * i,
      10 * i,
      { boot, seq: i, upMs: 4000 + 10_000 * i, ...(at === null ? {} : { at: at + 10_000 * i }) },
    ]);

  it('is taken at its arrival, and what it counted since its power-up', () => {
    const { pulses, diagnostics } = feed([...life(1, null), ...life(2, 4000)]);
    expect(pulses).toEqual([
      '100..110: 10',
      '110..120: 10',
      '196.1..200.1: 0',
      '200.1..210.1: 10',
      '210.1..220.1: 10',
    ]);
    expect(diagnostics['too-late']).toBeUndefined();
  });

  it('a boot before a known one that is older than may be revised stays out', () => {
    const { pulses, diagnostics } = feed([...life(3, null), ...life(2, 4000)]);
    expect(pulses).toEqual(['300..310: 10', '310..320: 10']);
    expect(diagnostics['too-late']).toBe(3);
  });
});

describe('a clock that goes back on a device without boot numbers', () => {
  const back = (size: number, by: number): Line[] =>
    Array.from({ length: size + 4 }, (_, i) => [
      10 * i,
      10 * i,
      {
        boot: null,
        at: T0 + 10_000 * i - (i >= size ? by : 0),
        receivedAt: T0 + 10_000 * i + 7,
      },
    ]);

  it.each([
    [5, 25_000, 'a little'],
    [5, 3_600_000, 'to before its first reading'],
    [200, 600_000, 'further than memory reaches'],
    [200, 7_200_000, 'to long before its first reading'],
  ])('%i readings, back by %i ms (%s): all pulses stay, those across the step are nobody’s', (size, by) => {
    const { rows, unknown, diagnostics } = feed(back(size, by));
    expect(unknown).toEqual([]);
    expect(rows.reduce((sum, row) => sum + row.pulses, 0)).toBe(10 * (size + 3));
    expect(diagnostics['clock-step']).toBe(4);
    expect(rows.filter((row) => (row.flags & Flag.stepped) !== 0).map((row) => row.seq)).toEqual([size]);
  });

  it('readings of before a restart that come after it stay before it', () => {
    const { pulses } = feed([
      [100, 0, { boot: null, seq: 0 }],
      [110, 10, { boot: null, seq: 1 }],
      [20, 500, { boot: null, seq: 70, receivedAt: T0 + 112_000 }],
      [30, 510, { boot: null, seq: 71, receivedAt: T0 + 112_100 }],
      [120, 20, { boot: null, seq: 2 }],
    ]);
    expect(pulses).toEqual(['20..30: 10', '100..110: 10', '110..120: 10']);
  });
});

describe('the watch on the device’s clock', () => {
  const steady = (n: number, change: (i: number) => Partial<ReadingFact>): Line[] =>
    Array.from({ length: n }, (_, i) => [10 * i, i, change(i)]);
  const off = (rows: { flags: number }[]): number =>
    rows.filter((row) => (row.flags & Flag.clockOff) !== 0).length;

  it('one time from the far future does not stand for ever', () => {
    const { rows, diagnostics } = feed(
      steady(60, (i) => (i === 5 ? { at: T0 + 1e12, receivedAt: T0 + 50_000 } : {})),
    );
    expect(diagnostics['clock-off']).toBe(1);
    expect(off(rows)).toBe(30);
  });

  it('a clock that falls while the sequence goes on is off at once, by as much', () => {
    const { rows, diagnostics } = feed(
      steady(40, (i) =>
        i < 20 ? {} : { at: T0 + 10_000 * i - 3_600_000, receivedAt: T0 + 10_000 * i + 100 },
      ),
    );
    expect(diagnostics['clock-off']).toBe(1);
    expect(off(rows)).toBe(20);
    const last = rows.find((row) => row.seq === 39)!;
    expect(clockErrorOf(last.flags)).toBe(4_096_000);
    expect(clockErrorOf(rows.find((row) => row.seq === 3)!.flags)).toBe(0);
  });

  it('a clock that was ahead and is put right is in order again after some readings', () => {
    const { rows } = feed(
      steady(60, (i) => (i < 20 ? { at: T0 + 10_000 * i + 60_000, receivedAt: T0 + 10_000 * i + 100 } : {})),
    );
    expect(off(rows.filter((row) => row.seq! >= 50))).toBe(0);
    expect(off(rows)).toBeGreaterThan(20);
  });

  it('whoever puts a clock right, or takes the time away from the readings, is told that nothing is wrong any more', () => {
    const ahead = (i: number): Partial<ReadingFact> => ({
      at: T0 + 10_000 * i + 60_000,
      receivedAt: T0 + 10_000 * i + 100,
    });
    const silent = (i: number): Partial<ReadingFact> => ({ at: null, receivedAt: T0 + 10_000 * i + 100 });
    for (const after of [() => ({}), silent]) {
      const { diagnostics } = feed(steady(60, (i) => (i < 20 ? ahead(i) : after(i))));
      expect(diagnostics).toMatchObject({ 'clock-off': 1, 'clock-right': 1 });
    }
    expect(feed(steady(60, ahead)).diagnostics['clock-right']).toBeUndefined();
  });

  it('times that lie behind by more and less agree with nothing: that is a delay, and is told as one', () => {
    const behind = (i: number, by: number): Partial<ReadingFact> => ({
      at: T0 + 10_000 * i,
      receivedAt: T0 + 10_000 * i + by,
    });
    const { diagnostics, details } = feed(
      steady(80, (i) => behind(i, i < 40 ? 3_600_000 : 3_600_000 + 9_000 * (i % 3))),
    );
    expect(diagnostics).toMatchObject({ 'clock-off': 1, 'clock-right': 1 });
    expect(details['clock-right']).toMatch(/a delay on the way/);
    expect(details['clock-right']).not.toMatch(/agrees/);
  });

  it('where the time of arrival is taken, the error of a clock that was never set is none of it', () => {
    const { rows } = feed(
      steady(60, (i) => ({ at: 3_600_000 + 10_000 * i, receivedAt: T0 + 10_000 * i + 100 })),
    );
    const errors = rows
      .filter((row) => (row.flags & Flag.clockOff) !== 0)
      .map(({ flags }) => clockErrorOf(flags));
    expect(errors.length).toBeGreaterThan(20);
    expect(Math.max(...errors)).toBe(1_000);
  });
});

describe('a boot number that never changes', () => {
  const life = (start: number, size: number, runTime: boolean): Line[] =>
    Array.from({ length: size }, (_, i) => [
      start + 10 * i,
      10 * i,
      {
        boot: 0,
        seq: i,
        at: T0 + (start + 10 * i) * 1000,
        upMs: runTime ? 5000 + 10_000 * i : null,
        receivedAt: T0 + (start + 10 * i) * 1000 + 100,
      },
    ]);
  const total = (lines: readonly Line[]) => {
    const { rows, unknown, diagnostics } = feed(lines);
    const pulses = rows.reduce((sum, row) => sum + row.pulses, 0);
    return { pulses, unknown: unknown.length, conflicts: diagnostics['conflict'] ?? 0 };
  };

  it.each([
    [8, true],
    [8, false],
    [200, true],
    [200, false],
  ])('a restart after %i readings begins a new segment (run time sent: %s)', (size, runTime) => {
    const again = life(10 * size + 30, 12, runTime);
    const found = total([...life(0, size, runTime), ...again, ...life(10 * size + 200, 5, runTime)]);
    expect(found).toEqual({ pulses: 10 * (size - 1) + 110 + 40, unknown: 2, conflicts: 0 });
  });

  it('readings that overtake one another over a restart find their own life', () => {
    const lines = [...life(0, 8, true), ...life(110, 8, true)];
    const [a, b, c] = [lines.splice(10, 1)[0]!, lines.splice(8, 1)[0]!, lines.splice(6, 1)[0]!];
    const late = [a, b, c].map(([at, count, more]): Line => [
      at,
      count,
      { ...more, receivedAt: T0 + 190_000 },
    ]);
    expect(total([...lines, ...late])).toEqual({ pulses: 140, unknown: 1, conflicts: 0 });
  });
});
