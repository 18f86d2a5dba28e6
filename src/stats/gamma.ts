/**
 * The regularised incomplete gamma functions P and Q: the distribution of a gamma variable, and through it every tail
 * of the Poisson distribution. Each is computed from its own side, so that a tail of 1e-200 keeps its digits.
 */
import { deviance, LN_SQRT_TWO_PI, lnGamma, lnGammaOnePlus, stirlingError } from './ln-gamma.js';
import { scaledErfc } from './normal.js';

const EPSILON = 2 ** -53;
/** Shape from which the uniform expansion reaches full precision with the terms below. */
const UNIFORM_SHAPE = 20;
const UNIFORM_FROM = 0.3;
const UNIFORM_TO = 2.35;

/**
 * Taylor coefficients of η / (λ − 1) in η, where η²/2 = λ − 1 − ln λ. Rational numbers (1, −1/3, 1/12, −2/135, …), found by
 * exact recurrence from λ′ = η λ / (λ − 1) and rounded; the tests find them anew.
 */
export const ETA_TERMS: readonly number[] = [
  1, -0.3333333333333333, 0.08333333333333333, -0.014814814814814815, 0.0011574074074074073,
  0.0003527336860670194, -0.0001787551440329218, 3.919263178522438e-5, -2.185448510679992e-6,
  -1.85406221071516e-6, 8.296711340953087e-7, -1.7665952736826078e-7, 6.707853543401498e-9,
  1.0261809784240309e-8, -4.382036018453353e-9, 9.14769958223679e-10, -2.5514193994946248e-11,
  -5.830772132550426e-11, 2.4361948020667415e-11, -5.0276692801141755e-12, 1.1004392031956135e-13,
  3.371763262400985e-13, -1.392388722418162e-13, 2.8534893807047445e-14, -5.139111834242572e-16,
  -1.9752288294349442e-15, 8.099521156704561e-16, -1.6522531216398162e-16,
];

/**
 * x^a e^(−x) / Γ(a): the density of a gamma variable of shape a, times x. Keeps its digits at a = 1e9, where x^a and
 * Γ(a) have none. Source: C. Loader, Fast and Accurate Computation of Binomial Probabilities (2000): deviance form.
 */
export function gammaWeight(shape: number, x: number): number {
  if (x <= 0 || x === Infinity) return 0;
  if (shape < 1) return shape * Math.exp(shape * Math.log(x) - x - lnGammaOnePlus(shape));
  if (shape < 10) return Math.exp(shape * Math.log(x) - x - lnGamma(shape));
  return (
    shape * Math.exp(-deviance(shape, x) - stirlingError(shape) - LN_SQRT_TWO_PI - 0.5 * Math.log(shape))
  );
}

/** P / (x^a e^(−x) / Γ(a)) as Σ xⁿ / (a (a+1) … (a+n)). Source: DLMF 8.7.1. */
function lowerSeries(shape: number, x: number): number {
  let term = 1 / shape;
  let sum = term;
  for (let n = 1; n < 10_000; n++) {
    term *= x / (shape + n);
    sum += term;
    if (term <= sum * EPSILON) break;
  }
  return sum;
}

/** Q / (x^a e^(−x) / Γ(a)) as a continued fraction. Source: DLMF 8.9.2, even part, by the modified Lentz method. */
function upperFraction(shape: number, x: number): number {
  let b = x + 1 - shape;
  let c = Infinity;
  let d = 1 / b;
  let value = d;
  for (let n = 1; n < 10_000; n++) {
    const a = -n * (n - shape);
    b += 2;
    d = 1 / (a * d + b);
    c = b + a / c;
    const step = c * d;
    value *= step;
    if (Math.abs(step - 1) <= 2 * EPSILON) break;
  }
  return value;
}

/** Q for shape < 1 and small x, where 1 − P would cancel. Source: DLMF 8.7.3 with the leading 1 − x^a/Γ(1+a) by expm1. */
function upperSmall(shape: number, x: number): number {
  const lnLead = shape * Math.log(x) - lnGammaOnePlus(shape);
  let term = 1;
  let sum = 0;
  for (let n = 1; n < 200; n++) {
    term *= -x / n;
    const part = term / (shape + n);
    sum += part;
    if (Math.abs(part) <= Math.abs(sum) * EPSILON) break;
  }
  return -Math.expm1(lnLead) - shape * Math.exp(lnLead) * sum;
}

/**
 * The tail beyond x on the far side of the mean (Q where x ≥ a, else P) for large shapes near the mean.
 * Source: N. M. Temme's uniform expansion (DLMF 8.12.3-8.12.4), its remainder by the backward recurrence of A. Gil, J. Segura and
 * N. M. Temme, SIAM J. Sci. Comput. 34 (2012) A2965-A2981.
 */
function uniformTail(shape: number, x: number): number {
  const drop = deviance(shape, x);
  const side = x >= shape ? 1 : -1;
  const eta = side * Math.sqrt((2 * drop) / shape);
  const top = ETA_TERMS.length - 2;
  let twoAbove = 0;
  let oneAbove = 0;
  let sum = 0;
  for (let n = top; n >= 0; n--) {
    const beta = ETA_TERMS[n + 1]! + ((n + 2) * twoAbove) / shape;
    twoAbove = oneAbove;
    oneAbove = beta;
    sum = sum * eta + beta;
  }
  const remainder = sum / (1 + twoAbove / shape) / Math.sqrt(2 * Math.PI * shape);
  return Math.exp(-drop) * (scaledErfc(Math.sqrt(drop)) / 2 + side * remainder);
}

function isUniform(shape: number, x: number): boolean {
  return shape >= UNIFORM_SHAPE && x > UNIFORM_FROM * shape && x < UNIFORM_TO * shape;
}

function checkArguments(shape: number, x: number): void {
  if (!(shape > 0) || shape === Infinity) throw new RangeError(`gamma: shape must be above 0, not ${shape}`);
  if (!(x >= 0)) throw new RangeError(`gamma: x must be 0 or above, not ${x}`);
}

/**
 * P(a, x): the probability that a gamma variable of shape a > 0 (scale 1) is at most x ≥ 0.
 * Relative error about 1e-14 in either tail, for shapes from 1e-3 to 1e9 and beyond.
 * Source: choice of method by region after W. Gautschi, ACM TOMS 5 (1979) 466-481, and Temme near the mean.
 */
export function gammaP(shape: number, x: number): number {
  checkArguments(shape, x);
  if (x === 0) return 0;
  if (x === Infinity) return 1;
  if (isUniform(shape, x)) return x < shape ? uniformTail(shape, x) : 1 - uniformTail(shape, x);
  if (x < Math.max(1.5, shape + 1)) return gammaWeight(shape, x) * lowerSeries(shape, x);
  return 1 - gammaWeight(shape, x) * upperFraction(shape, x);
}

/** Q(a, x) = 1 − P(a, x), to the same relative error. x may be Infinity. */
export function gammaQ(shape: number, x: number): number {
  checkArguments(shape, x);
  if (x === 0) return 1;
  if (x === Infinity) return 0;
  if (isUniform(shape, x)) return x < shape ? 1 - uniformTail(shape, x) : uniformTail(shape, x);
  if (shape < 1 && x < 1.5) return upperSmall(shape, x);
  if (x < shape + 1) return 1 - gammaWeight(shape, x) * lowerSeries(shape, x);
  return gammaWeight(shape, x) * upperFraction(shape, x);
}
