/** The counts that the coverage of limits is simulated with. */
import { describe, expect, it } from 'vitest';
import { drawCount, drawGamma, drawPoisson } from './draw.js';
import { seededRandom } from './random.js';

function momentsOf(draw: () => number, n: number): { mean: number; variance: number } {
  const x = Array.from({ length: n }, draw);
  const mean = x.reduce((a, b) => a + b, 0) / n;
  return { mean, variance: x.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (n - 1) };
}

describe('random counts', () => {
  it('have the mean and variance asked for', () => {
    const random = seededRandom(3);
    for (const [mean, dispersion] of [
      [0.4, 1],
      [12, 1],
      [400, 1],
      [30_000, 1],
      [5, 6],
      [3600, 5],
    ] as const) {
      const found = momentsOf(() => drawCount(random, mean, dispersion), 8000);
      const error = Math.sqrt((dispersion * mean) / 8000);
      expect(Math.abs(found.mean - mean), `mean ${mean}, φ ${dispersion}`).toBeLessThan(4 * error);
      expect(Math.abs(found.variance / mean / dispersion - 1), `φ ${dispersion} at ${mean}`).toBeLessThan(
        0.12,
      );
    }
    const gamma = momentsOf(() => drawGamma(random, 0.3), 20_000);
    expect(gamma.mean).toBeCloseTo(0.3, 1);
    expect(drawPoisson(random, 0)).toBe(0);
  });
});
