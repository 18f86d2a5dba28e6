/** The functions of the reference library lib-r-math.js that these tests use; its own types do not resolve under ESM. */
import * as library from 'lib-r-math.js';

type Unused = undefined;

/** Arguments as in R: the third and fourth of the gamma functions are rate and scale. */
interface Reference {
  pgamma(x: number, shape: number, rate?: Unused, scale?: Unused, lowerTail?: boolean): number;
  qgamma(p: number, shape: number, rate?: Unused, scale?: Unused, lowerTail?: boolean): number;
  ppois(x: number, mean: number, lowerTail?: boolean): number;
  qbeta(p: number, a: number, b: number): number;
  pbeta(x: number, a: number, b: number): number;
  pt(t: number, freedom: number): number;
  qnorm(p: number, mean: number, sd: number, lowerTail?: boolean): number;
}

export const reference: Reference = library;
