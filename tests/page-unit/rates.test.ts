/** Rates as people read them, without a browser. */
import { describe, expect, it } from 'vitest';
import { formatFigure } from '../../src/page/alarms/performance-figure.js';
import { formatRate } from '../../src/page/times.js';

describe('a rate', () => {
  it('has three figures that count, however small it is', () => {
    expect([0.0021, 0.000_012_34, 0.0999, 0.5, 0.123_456, 0.1 + 0.2].map(formatRate)).toEqual([
      ...['0.0021', '0.0000123', '0.0999', '0.5', '0.123', '0.3'],
    ]);
    expect([1, 9.876, 12.34, 99.94, 123.4, 1234].map(formatRate)).toEqual([
      ...['1.00', '9.88', '12.3', '99.9', '123', '1\u202f234'],
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

it('three alarms in a month are not none an hour', () => {
  expect([3 / 720, 0, 2.5, 12.4, null].map((value) => formatFigure(value, 'alarms per hour'))).toEqual([
    ...['0.00417', '0', '2.50', '12', 'not known'],
  ]);
  expect(formatFigure(0.034, 'share')).toBe('3.4 %');
});
