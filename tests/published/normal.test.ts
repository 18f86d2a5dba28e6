/** The normal quantile, where the start of every large gamma quantile comes from. */
import { describe, it } from 'vitest';
import { normalUpperQuantile } from '../../src/stats/normal.js';
import { expectField, takeRecord, title } from './published.js';

describe('normal quantiles', () => {
  const record = takeRecord<{ p: number[] }, { z: number[] }>('J02-normal-quantiles');
  it(title(record), () => {
    expectField(
      record,
      'z',
      record.inputs.p.map((p) => (p < 0.5 ? -normalUpperQuantile(p) : normalUpperQuantile(1 - p))),
    );
  });
});
