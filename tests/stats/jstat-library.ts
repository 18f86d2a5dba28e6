/**
 * The functions of the reference library jstat that these tests use; it has no types. Its quantiles are good to about 1e-11 for the
 * gamma and 1e-9 for the beta distribution, at every size up to 1e6; its poisson.cdf(1000, 1000) is NaN, so the Poisson tail is
 * not taken from it.
 */
import { createRequire } from 'node:module';

interface SecondReference {
  gamma: {
    inv(p: number, shape: number, scale: number): number;
    cdf(x: number, shape: number, scale: number): number;
  };
  beta: { inv(p: number, a: number, b: number): number; cdf(x: number, a: number, b: number): number };
  studentt: { inv(p: number, freedom: number): number; cdf(t: number, freedom: number): number };
  normal: {
    inv(p: number, mean: number, sd: number): number;
    cdf(x: number, mean: number, sd: number): number;
  };
}

const library = createRequire(import.meta.url)('jstat') as { jStat: SecondReference };

export const secondReference: SecondReference = library.jStat;
