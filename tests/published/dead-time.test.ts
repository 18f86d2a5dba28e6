/** Dead time against printed values. */
import { describe, expect, it } from 'vitest';
import { countedRatePerS, trueRatePerS } from '../../src/stats/dead-time.js';
import { expectField, takeRecord, title } from './published.js';

describe('dead time', () => {
  // we do not estimate τ from two sources; the printed τ must make the two true rates add up to that of both together
  const two = takeRecord<{ m1: number; m2: number; m12: number }, { tau: number }>('I01-two-source-knoll');
  it(title(two), () => {
    const { m1, m2, m12 } = two.inputs;
    const { tau } = two.expected;
    const apart = trueRatePerS(m1, tau) + trueRatePerS(m2, tau);
    expect(apart / trueRatePerS(m12, tau)).toBeCloseTo(1, 9);
  });

  type Pairs = { n: number[]; fraction_lost: number[] };
  const pairs = takeRecord<{ pairs_m: number[]; tau: number }, Pairs>('I03-nonparalyzable');
  it(title(pairs), () => {
    const { pairs_m, tau } = pairs.inputs;
    const found = pairs_m.map((m) => trueRatePerS(m, tau));
    expectField(pairs, 'n', found);
    expectField(
      pairs,
      'fraction_lost',
      found.map((n) => 1 - countedRatePerS(n, tau) / n),
    );
  });
});
