/** Rates as people read them, without a browser. */
import { describe, expect, it } from 'vitest';
import { formatFigure } from '../../src/page/alarms/performance-figure.js';
import { sayLimited } from '../../src/page/parts/rate-limits.js';
import { formatRate, formatRunning } from '../../src/page/times.js';

describe('a rate', () => {
  it('has three figures that count, however small it is', () => {
    expect([0.0021, 0.000_012_34, 0.0999, 0.5, 0.123_456, 0.1 + 0.2].map(formatRate)).toEqual([
      ...['0.0021', '0.0000123', '0.0999', '0.5', '0.123', '0.3'],
    ]);
    expect([1, 9.876, 12.34, 99.94, 123.4, 1234].map(formatRate)).toEqual([
      ...['1.00', '9.88', '12.3', '99.9', '123', '1,234'],
    ]);
  });

  it('keeps its figures where rounding takes it over a step', () => {
    expect([0.9996, 9.996, 99.96].map(formatRate)).toEqual(['1.00', '10.0', '100']);
  });

  it('is never written as zero when it is not, and never with an exponent', () => {
    expect([null, 0, 1e-6, 9.9e-7, 3e-19].map(formatRate)).toEqual([
      ...['–', '0', '0.000001', '< 0.000001', '< 0.000001'],
    ]);
    for (let power = -20; power < 3; power++)
      expect(formatRate(2.345 * 10 ** power)).not.toMatch(/e|^0(\.0+)?$/);
  });
});

describe('a rate with limits', () => {
  it('has the figures that its limits support, and no more', () => {
    const said = ([mean, lower, upper]: [number, number, number | null]): string =>
      sayLimited({ mean, lower, upper });
    expect(said([315_019, 249_779, 397_301])).toBe('315,000 (250,000 to 397,000)');
    expect(said([12.43, 10.31, 14.92])).toBe('12.4 (10.3 to 14.9)');
    expect(said([40.081, 39.89, 40.27])).toBe('40.08 (39.89 to 40.27)');
    expect(said([0.0116, 0.008_12, 0.0167])).toBe('0.0116 (0.0081 to 0.0167)');
    expect(said([0.84, 0.7, 1.01])).toBe('0.84 (0.70 to 1.01)');
    expect(said([326, 66.6, 957])).toBe('330 (67 to 960)');
    expect(said([1234.5, 1200, 1270])).toBe('1,235 (1,200 to 1,270)');
  });

  it('never makes zero of what is small, nor anything of zero, and says where there is no bound', () => {
    expect(sayLimited({ mean: 0.5, lower: 0.0127, upper: 2.79 })).toBe('0.50 (0.013 to 2.8)');
    expect(sayLimited({ mean: 0, lower: 0, upper: 0.31 })).toBe('0 (0 to 0.31)');
    expect(sayLimited({ mean: 9.5, lower: 7.1, upper: null })).toBe('9.50 (7.10 to no bound)');
    expect(sayLimited({ mean: 2, lower: 2, upper: 2 })).toBe('2.00 (2.00 to 2.00)');
    for (let power = -12; power < 12; power++) {
      const mean = 2.345 * 10 ** power;
      expect(sayLimited({ mean, lower: mean / 9, upper: 9 * mean })).not.toMatch(
        /e|NaN|(^|[ (])0(\.0+)?[ )]/,
      );
    }
  });
});

it('running time stays in hours, so that four days and five are told apart', () => {
  expect([2_520_000, 100_800_000, 345_600_000, 4_442_400_000].map(formatRunning)).toEqual([
    ...['42 min', '28 h', '96 h', '1,234 h'],
  ]);
});

it('three alarms in a month are not none an hour', () => {
  expect([3 / 720, 0, 2.5, 12.4, null].map((value) => formatFigure(value, 'alarms per hour'))).toEqual([
    ...['0.00417', '0', '2.50', '12', 'not known'],
  ]);
  expect(formatFigure(0.034, 'share')).toBe('3.4 %');
});
