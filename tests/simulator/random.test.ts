import { describe, expect, test } from 'vitest';
import { openStream } from '../../simulator/random.js';

function moments(draw: () => number, n: number): { mean: number; variance: number } {
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < n; i++) {
    const value = draw();
    sum += value;
    squares += value * value;
  }
  return { mean: sum / n, variance: squares / n - (sum / n) ** 2 };
}

describe('seeded chance', () => {
  test('the same seed and names give the same stream, other names another', () => {
    const take = (...names: string[]): number[] => {
      const random = openStream(7, ...names);
      return Array.from({ length: 20 }, () => random.unit());
    };
    expect(take('a', 'b')).toEqual(take('a', 'b'));
    expect(take('a', 'b')).not.toEqual(take('ab'));
    expect(take('a', 'b')).not.toEqual(take('b', 'a'));
  });

  test.each([0.3, 4, 11.9, 12.1, 40, 900])('Poisson draws of mean %d have that mean and variance', (mean) => {
    const random = openStream(1, 'poisson');
    const n = 40_000;
    const found = moments(() => random.poisson(mean), n);
    expect(Math.abs(found.mean - mean)).toBeLessThan(5 * Math.sqrt(mean / n));
    expect(found.variance / mean).toBeGreaterThan(0.95);
    expect(found.variance / mean).toBeLessThan(1.05);
  });

  test('exponential, normal, uniform and binomial draws have their means and variances', () => {
    const random = openStream(2, 'others');
    const exponential = moments(() => random.exponential(3), 40_000);
    expect(exponential.mean).toBeCloseTo(3, 0);
    expect(exponential.variance / 9).toBeCloseTo(1, 1);
    const normal = moments(() => random.normal(5, 2), 40_000);
    expect(normal.mean).toBeCloseTo(5, 1);
    expect(normal.variance / 4).toBeCloseTo(1, 1);
    const uniform = moments(() => random.unit(), 40_000);
    expect(uniform.mean).toBeCloseTo(0.5, 2);
    expect(uniform.variance * 12).toBeCloseTo(1, 1);
    for (const n of [20, 5_000]) {
      const binomial = moments(() => random.binomial(n, 0.3), 20_000);
      expect(binomial.mean / (0.3 * n)).toBeCloseTo(1, 1);
      expect(binomial.variance / (0.21 * n)).toBeCloseTo(1, 1);
    }
  });
});
