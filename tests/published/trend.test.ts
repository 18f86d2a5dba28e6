/** Trend tests and slopes against printed values. */
import { describe, expect, it } from 'vitest';
import { gammaP, gammaQ } from '../../src/stats/gamma.js';
import { countTies, kendallExactTail, kendallScore, scoreOf } from '../../src/stats/kendall.js';
import { median } from '../../src/stats/median.js';
import { normalTwoSided } from '../../src/stats/normal.js';
import { correctVariance } from '../../src/stats/serial-correlation.js';
import { estimateSlope, findTrend } from '../../src/stats/trend.js';
import { expectField, takeRecord, title } from './published.js';

/** 1, 2, … as times. */
function countUp(x: readonly unknown[]): number[] {
  return x.map((_, i) => i + 1);
}

type Test = Record<'S' | 'varS' | 'z' | 'p', number>;
/** Independent values: no correlation is looked for. */
const INDEPENDENT = { lagsMax: 0, floor: 1, alpha: 0.05, isFading: false };

describe('Mann-Kendall', () => {
  const nile = takeRecord<{ x: number[] }, Test & { tau_b: number }>('G01-nile-mann-kendall');
  it(title(nile), () => {
    const { x } = nile.inputs;
    const found = kendallScore(countUp(x), x);
    expectField(nile, 'S', found.s);
    expectField(nile, 'varS', found.variance);
    expectField(nile, 'z', found.z);
    expectField(nile, 'p', found.p);
    expectField(nile, 'tau_b', found.tauB!);
    const trend = findTrend(countUp(x), x, 0.95, INDEPENDENT)!;
    expectField(nile, 'z', trend.z);
    expectField(nile, 'p', trend.p);
  });

  const rhine = takeRecord<{ x: number[] }, Test & { tau: number }>('G02-maxau-discharge-mk');
  it(title(rhine), () => {
    const { x } = rhine.inputs;
    const found = kendallScore(countUp(x), x);
    expectField(rhine, 'S', found.s);
    expectField(rhine, 'varS', found.variance);
    expectField(rhine, 'z', found.z);
    expectField(rhine, 'p', found.p);
    expectField(rhine, 'tau', found.tauA);
  });

  type Pair = { x: number[]; y: number[] };
  type Both = Record<'S_3_4' | 'D_3_4' | 'tau_3_4' | 'S_4_3' | 'varS_4_3', number>;
  const both = takeRecord<{ example_3_4: Pair; example_4_3: Pair }, Both>('G07-kendall-ties-both');
  it(title(both), () => {
    const first = kendallScore(both.inputs.example_3_4.x, both.inputs.example_3_4.y);
    expectField(both, 'S_3_4', first.s);
    expectField(both, 'D_3_4', first.s / first.tauB!);
    expectField(both, 'tau_3_4', first.tauB!);
    const second = kendallScore(both.inputs.example_4_3.x, both.inputs.example_4_3.y);
    expectField(both, 'S_4_3', second.s);
    expectField(both, 'varS_4_3', second.variance);
  });

  const table = takeRecord<{ n: number[]; S: number[] }, { p: number[]; p_exact: number[] }>(
    'G08-kendall-exact-table-n4-5-7-10',
  );
  it(title(table), () => {
    const found = table.inputs.n.map((n, i) => kendallExactTail(n, table.inputs.S[i]!));
    expectField(table, 'p', found);
    expectField(table, 'p_exact', found);
  });

  type Short = { frost: Test; sachs: Test };
  const short = takeRecord<{ frost: number[]; sachs: number[] }, Short>('G15-frost-sachs-mk');
  it(title(short), () => {
    for (const name of ['frost', 'sachs'] as const) {
      const found = kendallScore(countUp(short.inputs[name]), short.inputs[name]);
      const wanted = short.expected[name];
      const allowed = short.tolerance_abs as number;
      expect(found.s).toBe(wanted.S);
      expect(found.variance).toBe(wanted.varS);
      expect(Math.abs(found.z - wanted.z)).toBeLessThanOrEqual(allowed);
      expect(Math.abs(found.p - wanted.p)).toBeLessThanOrEqual(allowed);
    }
  });
});

describe('Theil-Sen', () => {
  type Line = Record<'z' | 'p' | 'slope', number> & { ci: number[] };
  const sediment = takeRecord<{ x: number[] }, Line>('G03-maxau-sediment-sen');
  it(title(sediment), () => {
    const { x } = sediment.inputs;
    const score = kendallScore(countUp(x), x);
    const line = estimateSlope(countUp(x), x, score.variance, 0.95, 'round')!;
    expectField(sediment, 'z', score.z);
    expectField(sediment, 'p', score.p);
    expectField(sediment, 'slope', line.slope);
    expectField(sediment, 'ci', [line.lower, line.upper]);
    expect(line.pairs).toBe(990);
  });

  type Wells = Test &
    Record<'sd' | 'tau_a' | 'slope' | 'intercept_conover', number> & { ci_gilbert: number[] };
  const wells = takeRecord<{ t: number[]; x: number[] }, Wells>('G04-epa-sulfate');
  it(title(wells), () => {
    const { t, x } = wells.inputs;
    const score = kendallScore(t, x);
    expectField(wells, 'tau_a', score.tauA);
    expectField(wells, 'sd', Math.sqrt(score.variance));
    const trend = findTrend(t, x, 0.95, INDEPENDENT)!;
    expectField(wells, 'S', trend.s);
    expectField(wells, 'varS', trend.variance);
    expectField(wells, 'z', trend.z);
    expectField(wells, 'p', trend.p);
    expectField(wells, 'slope', trend.slope);
    expectField(wells, 'intercept_conover', trend.intercept);
    expectField(wells, 'ci_gilbert', [trend.lower, trend.upper]);
  });

  type Sen = Record<'slope' | 'intercept_joint' | 'intercept_separate', number> & { ci: number[] };
  const sen = takeRecord<{ t: number[]; x: number[]; conf: number }, Sen>('G06-sen-1968');
  it(title(sen), () => {
    const { t, x, conf } = sen.inputs;
    const line = estimateSlope(t, x, kendallScore(t, x).variance, conf, 'round')!;
    expectField(sen, 'slope', line.slope);
    expectField(sen, 'ci', [line.lower, line.upper]);
    expectField(sen, 'intercept_separate', line.intercept);
    expectField(sen, 'intercept_joint', median(x.map((value, k) => value - line.slope * t[k]!))!);
  });
});

describe('serial correlation', () => {
  type Corrected = Test &
    Record<'sen_slope' | 'hr_varS' | 'hr_z' | 'hr_p' | 'hr3_varS' | 'hr3_z' | 'hr3_p', number>;
  const monthly = takeRecord<{ x: (number | null)[] }, Corrected>('G10-hamed-rao');
  it(title(monthly), () => {
    const kept = monthly.inputs.x.flatMap((value, i) => (value === null ? [] : [{ t: i + 1, value }]));
    const t = kept.map((entry) => entry.t);
    const x = kept.map((entry) => entry.value);
    const score = kendallScore(countUp(x), x);
    expectField(monthly, 'S', score.s);
    expectField(monthly, 'varS', score.variance);
    expectField(monthly, 'z', score.z);
    expectField(monthly, 'p', score.p);
    const { slope } = estimateSlope(t, x, score.variance, 0.95)!;
    expectField(monthly, 'sen_slope', slope);
    const detrended = x.map((value, i) => value - slope * (i + 1));
    for (const [name, lagsMax] of [
      ['hr', x.length - 1],
      ['hr3', 3],
    ] as const) {
      const variance =
        score.variance * correctVariance(detrended, { lagsMax, floor: 0, alpha: 0.05, isFading: false });
      const z = scoreOf(score.s, variance);
      expectField(monthly, `${name}_varS`, variance);
      expectField(monthly, `${name}_z`, z);
      expectField(monthly, `${name}_p`, normalTwoSided(z));
    }
    // with our bounds the season may not make the trend look surer than independent values would
    expect(correctVariance(detrended)).toBeGreaterThanOrEqual(1);
  });
});

describe('trend of event times', () => {
  // the program has no model of event times. The limits of the power-law MTBF come from a table of their own and are left out; the
  // rest holds our Γ functions and pair counts against the handbook
  type Repair = Record<
    'reverse_arrangements' | 'mil_hdbk_chi2' | 'df' | 'chi2_cdf' | 'beta_hat' | 'mtbf' | 'laplace_z',
    number
  >;
  const repair = takeRecord<{ event_times: number[]; T: number }, Repair>('G13-nist-repair-trend');
  it(title(repair), () => {
    const { event_times: times, T } = repair.inputs;
    const n = times.length;
    const gaps = times.map((at, i) => at - (times[i - 1] ?? 0));
    const { s } = kendallScore(countUp(gaps), gaps);
    // pairs of gaps that rise: half of all untied pairs, and half of S; two gaps are equal
    expectField(repair, 'reverse_arrangements', ((n * (n - 1)) / 2 - countTies(gaps).length + s) / 2);
    const statistic = 2 * times.reduce((sum, at) => sum + Math.log(T / at), 0);
    expectField(repair, 'mil_hdbk_chi2', statistic);
    expectField(repair, 'df', 2 * n);
    expectField(repair, 'chi2_cdf', gammaP(n, statistic / 2));
    expect(gammaP(n, statistic / 2) + gammaQ(n, statistic / 2)).toBeCloseTo(1, 14);
    const slope = (2 * (n - 1)) / statistic;
    expectField(repair, 'beta_hat', 1 - slope);
    expectField(repair, 'mtbf', T / (n * slope));
    const middle = times.reduce((sum, at) => sum + at, 0) / n - T / 2;
    expectField(repair, 'laplace_z', middle / (T * Math.sqrt(1 / (12 * n))));
  });
});
