/** Axes, rows and labels of the pictures that are drawn as vectors, without a browser. */
import { describe, expect, it } from 'vitest';
import { listCompressedMarks } from '../../src/page/charts/compressed-scale.js';
import { placeRows, placeUnit, shortenLabel, type IntervalRow } from '../../src/page/charts/interval-rows.js';
import { listLogTicks, makeLogScale } from '../../src/page/charts/log-scale.js';
import { listSteps, nameStep } from '../../src/page/charts/small-series.js';

describe('a log axis', () => {
  it('holds all values, in order, with zero apart from the smallest', () => {
    const scale = makeLogScale([0, 0.3, 20, 450]);
    const places = [0, 0.3, 20, 450].map((value) => scale.place(value));
    expect(places[0]).toBe(0);
    expect([...places].sort((a, b) => a - b)).toEqual(places);
    expect(places[1]!).toBeGreaterThan(0.05);
    expect(places[3]!).toBeLessThanOrEqual(1);
    expect(makeLogScale([3, 4]).hasZero).toBe(false);
  });

  it('has marks that a person reads, also without any value', () => {
    expect(listLogTicks(makeLogScale([0, 3, 40])).map(({ label }) => label)).toEqual([
      '0',
      '2',
      '5',
      '10',
      '20',
      '50',
    ]);
    expect(listLogTicks(makeLogScale([])).length).toBeGreaterThan(2);
    expect(listLogTicks(makeLogScale([0.001, 90_000])).length).toBeLessThan(12);
  });
});

describe('rows with limits', () => {
  const row = (mean: number | null, lower: number, upper: number | null): IntervalRow => ({
    ...{ key: `${mean}`, label: 'a', note: '', missing: 'no exposure', isHollow: false, mean, lower, upper },
  });
  const draw = (...rows: IntervalRow[]) => placeRows(rows, { width: 600, labelWidth: 150 }, 1);

  it('limits lie about their point, inside the picture', () => {
    for (const placed of draw(row(3, 2, 4.5), row(0.5, 0.2, 1.4)).rows) {
      expect(
        150 <= placed.low && placed.low < placed.x! && placed.x! < placed.high && placed.high <= 600,
      ).toBe(true);
      expect([placed.isOpenLow, placed.isOpenHigh]).toEqual([false, false]);
    }
  });

  it('no bound, and a bound far away, are arrows; zero is a point, and no exposure is none', () => {
    const { rows, right } = draw(row(3, 0.001, null), row(0, 0, 0.4), row(null, 0, null));
    expect([rows[0]!.isOpenLow, rows[0]!.isOpenHigh, rows[0]!.high]).toEqual([true, true, right]);
    expect([rows[1]!.x, rows[1]!.isOpenLow]).toEqual([150, false]);
    expect(rows[2]!.x).toBe(null);
  });
});

it('the text under an axis is whole, however narrow the axis is beside its labels', () => {
  const unit = 'pulses per minute of running, logarithmic';
  const half = (unit.length * 7) / 2;
  for (const [width, labelWidth] of [
    [430, 170],
    [330, 165],
    [900, 200],
  ] as const) {
    const picture = placeRows([], { width, labelWidth }, 1);
    const middle = placeUnit(unit, picture);
    expect([middle - half >= 0, middle + half <= width]).toEqual([true, true]);
    if (width === 900) expect(middle).toBe((picture.left + picture.right) / 2);
  }
});

it('a compressed axis has marks for every rate, none below zero, none too close', () => {
  expect(listCompressedMarks(0.15, 160)).toEqual([0, 0.05, 0.1, 0.15]);
  expect(listCompressedMarks(11, 160)).toEqual([0, 1, 2, 5, 10]);
  expect(listCompressedMarks(1_200, 160)).toEqual([0, 2, 10, 100, 1_000]);
  for (const most of [0, 1e-6, 0.7, 1.9, 2.1, 33, 5_000, 400_000, 1e9])
    for (const height of [100, 160, 400]) {
      const marks = listCompressedMarks(most, height);
      expect(marks.every((mark, i) => mark >= 0 && mark <= most && mark > (marks[i - 1] ?? -1))).toBe(true);
      expect(marks.length).toBeGreaterThan(most === 0 ? 0 : 1);
      expect(marks.length).toBeLessThan(height / 20 + 2);
    }
});

it('a long name keeps its end in a picture', () => {
  expect(['pump-7', 'booster-pump-of-the-west-hall-12'].map((name) => shortenLabel(name, 12))).toEqual([
    ...['pump-7', '…est-hall-12'],
  ]);
  expect(shortenLabel('booster-12', -3)).toBe('…r-12');
});

it('all marks of a small axis have the decimals of its step', () => {
  const named = (most: number): string[] => {
    const steps = listSteps(most);
    return steps.map((step) => nameStep(step, steps[1]!));
  };
  expect(named(1.4)).toEqual(['0', '0.5', '1.0', '1.5']);
  expect(named(14)).toEqual(['0', '5', '10', '15']);
  expect(named(0.0031)).toEqual(['0', '0.002', '0.004']);
  expect(['0', '0.25', '0.50']).toEqual([0, 0.25, 0.5].map((value) => nameStep(value, 0.25)));
  expect(named(250_000)).toEqual(['0', '100,000', '200,000', '300,000']);
});
