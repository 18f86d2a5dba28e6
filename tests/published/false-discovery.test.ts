/** Adjusted p-values against printed ones. */
import { describe, expect, it } from 'vitest';
import { adjustP } from '../../src/stats/false-discovery.js';
import { expectField, takeRecord, title } from './published.js';

describe('false discoveries', () => {
  type Rejected = Record<'bh_rejected' | 'bonferroni_rejected' | 'hochberg_rejected', number> & {
    bh_adjusted: number[];
  };
  const bh = takeRecord<{ p: number[]; q: number }, Rejected>('H01-bh-1995');
  it(title(bh), () => {
    const { p, q } = bh.inputs;
    const adjusted = adjustP(p);
    expectField(bh, 'bh_adjusted', adjusted);
    expectField(bh, 'bh_rejected', adjusted.filter((value) => value <= q).length);
    // the two stricter rules are not ours; they show that the list is the one that the paper had
    expectField(bh, 'bonferroni_rejected', p.filter((value) => value * p.length <= q).length);
    const last = p.findLastIndex((value, i) => value <= q / (p.length - i));
    expectField(bh, 'hochberg_rejected', last + 1);
  });

  const by = takeRecord<{ p: number[] }, { by_adjusted: number[] }>('H03-by-2001');
  it(title(by), () => {
    expectField(by, 'by_adjusted', adjustP(by.inputs.p, 'any'));
  });

  it('the order of the list does not matter, nor do ties', () => {
    const { p } = bh.inputs;
    const shuffled = [...p.slice(7), ...p.slice(0, 7)];
    expect(adjustP(shuffled)).toEqual([...adjustP(p).slice(7), ...adjustP(p).slice(0, 7)]);
    expect(adjustP([0.02, 0.02])).toEqual([0.02, 0.02]);
    expect(adjustP([])).toEqual([]);
    expect(() => adjustP([NaN])).toThrow(RangeError);
  });
});
