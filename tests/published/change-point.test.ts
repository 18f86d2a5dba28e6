/** Changes in famous series against printed values. */
import { describe, expect, it } from 'vitest';
import { findChange, findChanges } from '../../src/stats/change-point.js';
import { findRankChange } from '../../src/stats/rank-change.js';
import { expectField, takeRecord, title } from './published.js';

describe('change of a series', () => {
  const page = takeRecord<{ x: number[] }, Record<'K' | 'U' | 'p', number>>('E11-pettitt-page');
  it(title(page), () => {
    const found = findRankChange(page.inputs.x)!;
    expectField(page, 'K', found.index);
    expectField(page, 'U', found.statistic);
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
    const ranks = findRankChange(x)!;
    expectField(nile, 'pettitt_K', ranks.index);
    expectField(nile, 'pettitt_U', ranks.statistic);
  });
});
