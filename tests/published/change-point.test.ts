/** Changes in famous series against printed values. */
import { describe, expect, it } from 'vitest';
import { findChange, findChanges } from '../../src/stats/change-point.js';
import { kendallScore } from '../../src/stats/kendall.js';
import { expectField, takeRecord, title } from './published.js';

/**
 * The split by ranks, which the program does not use: the first with the largest |U|, where U is Kendall's S of the values and of the side
 * of the split that each lies on. Source: A. N. Pettitt, Applied Statistics 28 (1979) 126-135, p ≈ 2 exp(−6 K² / (n³ + n²)).
 */
function splitByRanks(x: readonly number[]): { index: number; u: number; p: number } {
  const n = x.length;
  const scores = x.slice(1).map((_, i) =>
    Math.abs(
      kendallScore(
        x.map((_, j) => (j <= i ? 0 : 1)),
        x,
      ).s,
    ),
  );
  const u = Math.max(...scores);
  return { index: scores.indexOf(u) + 1, u, p: 2 * Math.exp((-6 * u ** 2) / (n ** 3 + n ** 2)) };
}

describe('change of a series', () => {
  const page = takeRecord<{ x: number[] }, Record<'K' | 'U' | 'p', number>>('E11-pettitt-page');
  it(title(page), () => {
    const found = splitByRanks(page.inputs.x);
    expectField(page, 'K', found.index);
    expectField(page, 'U', found.u);
    expectField(page, 'p', found.p);
  });

  type Coal = Record<'n_years' | 'total' | 'last_year_of_first_regime' | 'lr_statistic', number> &
    Record<'counts' | 'years' | 'rates', number[]>;
  const coal = takeRecord<{ first_year: number; x: number[] }, Coal>('E12-coal-mining-changepoint');
  it(title(coal), () => {
    const { x, first_year: first } = coal.inputs;
    const found = findChange(
      x.map((pulses) => ({ pulses, exposure: 1 })),
      1,
    )!;
    expectField(coal, 'n_years', x.length);
    expectField(coal, 'last_year_of_first_regime', first + found.index - 1);
    expectField(coal, 'years', [found.index, x.length - found.index]);
    expectField(coal, 'rates', [found.rateBefore, found.rateAfter]);
    expectField(coal, 'counts', [
      Math.round(found.rateBefore * found.index),
      Math.round(found.rateAfter * (x.length - found.index)),
    ]);
    expectField(
      coal,
      'total',
      x.reduce((a, b) => a + b, 0),
    );
    expectField(coal, 'lr_statistic', found.likelihoodRatio);
    expect(found.p).toBeLessThan(1e-12);
    // Raftery and Akman (1986) and others give about 1887 to 1895 for the last year of the first regime
    expect(first + found.earliest - 1).toBeGreaterThanOrEqual(1884);
    expect(first + found.latest - 1).toBeLessThanOrEqual(1896);
    expect(
      findChanges(
        x.map((pulses) => ({ pulses, exposure: 1 })),
        1,
        0.01,
      ).map(({ index }) => first + index - 1),
    ).toContain(1891);
  });

  type Nile = Record<
    'break_after_index' | 'break_year' | 'mean_before' | 'mean_after' | 'pettitt_K' | 'pettitt_U',
    number
  >;
  const nile = takeRecord<{ first_year: number; x: number[] }, Nile>('E14-nile-changepoint');
  it(title(nile), () => {
    const { x, first_year: first } = nile.inputs;
    // a flow is no count: its own dispersion scales it
    const found = findChange(
      x.map((pulses) => ({ pulses, exposure: 1 })),
      null,
    )!;
    expectField(nile, 'break_after_index', found.index);
    expectField(nile, 'break_year', first + found.index - 1);
    expectField(nile, 'mean_before', found.rateBefore);
    expectField(nile, 'mean_after', found.rateAfter);
    const ranks = splitByRanks(x);
    expectField(nile, 'pettitt_K', ranks.index);
    expectField(nile, 'pettitt_U', ranks.u);
  });
});
