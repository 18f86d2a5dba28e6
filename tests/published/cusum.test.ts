/** Charts and their run lengths against printed values. */
import { describe, expect, it } from 'vitest';
import { stepCusum } from '../../src/stats/cusum.js';
import { gaussLegendre, solveLinear } from '../stats/linear.js';
import { normalDensity } from '../../src/stats/normal.js';
import { chooseReference, normalRunLength, poissonRunLengths } from '../stats/run-length.js';
import { expectField, takeRecord, title } from './published.js';

/** The sums after each value, from 0. */
function runCusum(values: readonly number[], reference: number): number[] {
  let sum = 0;
  return values.map((value) => (sum = stepCusum(sum, value, reference)));
}

interface Chart {
  mu: number;
  k: number;
  h: number;
  side: 'upper' | 'lower';
}

describe('run length of the Poisson CUSUM', () => {
  for (const id of ['E01-lucas1985-upper-start0', 'E03-lucas1985-lower-start0']) {
    const record = takeRecord<Chart, { arl_printed: number; arl: number }>(id);
    it(title(record), () => {
      const { mu, k, h, side } = record.inputs;
      const found = poissonRunLengths({ mean: mu, reference: k, threshold: h, perCount: 4, side })[0]!;
      expectField(record, 'arl_printed', found);
      expectField(record, 'arl', found);
    });
  }

  const head = takeRecord<Chart, { arl: number; fir_arl: number }>('E05-surveillance-arlcusum');
  it(title(head), () => {
    const { mu, k, h } = head.inputs;
    const found = poissonRunLengths({ mean: mu, reference: k, threshold: h, perCount: 1, side: 'upper' });
    expectField(head, 'arl', found[0]!);
    expectField(head, 'fir_arl', found[h / 2]!);
  });

  const choice = takeRecord<{ pairs: [number, number][] }, { k: number[] }>('E06-poisson-cusum-k');
  it(title(choice), () => {
    expectField(
      choice,
      'k',
      choice.inputs.pairs.map(([before, after]) => chooseReference(before, after)),
    );
  });
});

describe('run length of the normal CUSUM', () => {
  const brook = takeRecord<{ k: number; h: number; mu: number[] }, { arl: number[] }>(
    'E07-brook-evans-normal-cusum',
  );
  it(title(brook), () => {
    const { k, h, mu } = brook.inputs;
    expectField(
      brook,
      'arl',
      mu.map((shift) => normalRunLength(shift, k, h)),
    );
  });

  type Two = { arl_zero: number[]; arl_fir: number[] };
  const two = takeRecord<{ k: number; h: number; mu: number[]; head_start: number }, Two>(
    'E08-lucas-crosier-two-sided',
  );
  it(title(two), () => {
    const { k, h, mu, head_start: head } = two.inputs;
    const zero = mu.map((shift) => {
      const up = normalRunLength(shift, k, h);
      const down = normalRunLength(-shift, k, h);
      return (up * down) / (up + down);
    });
    const fast = mu.map((shift) => {
      const up = normalRunLength(shift, k, h);
      const down = normalRunLength(-shift, k, h);
      const upHead = normalRunLength(shift, k, h, head);
      const downHead = normalRunLength(-shift, k, h, head);
      return (upHead * down + downHead * up - up * down) / (up + down);
    });
    expectField(two, 'arl_zero', zero);
    expectField(two, 'arl_fir', fast);
  });

  const sas = takeRecord<{ k: number; h: number; mu: number; head_start: number[] }, { arl: number[] }>(
    'E10-sasqc-cusum',
  );
  it(title(sas), () => {
    const { k, h, mu, head_start } = sas.inputs;
    expectField(
      sas,
      'arl',
      head_start.map((start) => normalRunLength(mu, k, h, start)),
    );
  });
});

describe('charts', () => {
  type Tabular = { s_high: number[]; s_low: number[]; first_signal: number; signals: number[] };
  const tabular = takeRecord<{ x: number[]; target: number; k: number; h: number }, Tabular>(
    'F05-nist-tabular-cusum',
  );
  it(title(tabular), () => {
    const { x, target, k, h } = tabular.inputs;
    const high = runCusum(
      x.map((value) => value - target),
      k,
    );
    const low = runCusum(
      x.map((value) => target - value),
      k,
    );
    expectField(tabular, 's_high', high);
    expectField(tabular, 's_low', low);
    const signals = x.flatMap((_, i) => (high[i]! > h || low[i]! > h ? [i + 1] : []));
    expectField(tabular, 'signals', signals);
    expectField(tabular, 'first_signal', signals[0]!);
  });

  // the program has no moving average; its run lengths hold quadrature and solver of the reference against other print
  const ewmaLength = (lambda: number, limit: number, shift: number): number => {
    const h = limit * Math.sqrt(lambda / (2 - lambda));
    const { x, w } = gaussLegendre(80, -h, h);
    const density = (s: number, y: number): number =>
      normalDensity((y - (1 - lambda) * s) / lambda - shift) / lambda;
    const a = x.map((s, i) => x.map((y, j) => (i === j ? 1 : 0) - w[j]! * density(s, y)));
    const lengths = solveLinear(a, new Array<number>(x.length).fill(1));
    return x.reduce((sum, y, j) => sum + w[j]! * density(0, y) * lengths[j]!, 1);
  };

  const crowder = takeRecord<
    { c: number; lambda_: [number, number]; mu: number[] },
    { arl_05: number[]; arl_005: number[] }
  >('F06-crowder-ewma-arl');
  it(title(crowder), () => {
    const { c, lambda_, mu } = crowder.inputs;
    expectField(
      crowder,
      'arl_05',
      mu.map((shift) => ewmaLength(lambda_[0], c, shift)),
    );
    expectField(
      crowder,
      'arl_005',
      mu.map((shift) => ewmaLength(lambda_[1], c, shift)),
    );
  });

  const sas = takeRecord<{ lam: number; c: number; mu: number }, { arl: number }>('F08-sasqc-ewma-arl');
  it(title(sas), () => {
    const { lam, c, mu } = sas.inputs;
    expectField(sas, 'arl', ewmaLength(lam, c, mu));
  });

  it('the solver refuses a singular system', () => {
    expect(() =>
      solveLinear(
        [
          [1, 1],
          [2, 2],
        ],
        [1, 2],
      ),
    ).toThrow(RangeError);
    expect(
      solveLinear(
        [
          [0, 2],
          [1, 0],
        ],
        [4, 3],
      ),
    ).toEqual([3, 2]);
  });
});
