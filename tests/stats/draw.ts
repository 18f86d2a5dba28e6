/** Random counts, lumpy and of any size. `random` gives numbers in (0, 1) and comes from the caller: the same ones give the same result. */

export type Random = () => number;

/** Standard normal value. Source: G. E. P. Box and M. E. Muller, Annals of Mathematical Statistics 29 (1958) 610-611. */
function drawNormal(random: Random): number {
  return Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
}

/** Gamma variable of that shape > 0, scale 1. Source: G. Marsaglia and W. W. Tsang, ACM TOMS 26 (2000) 363-372. */
export function drawGamma(random: Random, shape: number): number {
  if (shape < 1) return drawGamma(random, shape + 1) * random() ** (1 / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = drawNormal(random);
    const v = (1 + c * x) ** 3;
    if (v > 0 && Math.log(random()) < x ** 2 / 2 + d - d * v + d * Math.log(v)) return d * v;
  }
}

/**
 * Poisson count of that mean ≥ 0. Source: halving of large means by gamma and binomial draws, J. H. Ahrens and U. Dieter, Computing 12
 * (1974) 223-246, the binomial one as a Poisson process; products of uniform numbers below 30 (D. E. Knuth).
 */
export function drawPoisson(random: Random, mean: number): number {
  let count = 0;
  let left = mean;
  while (left > 30) {
    const step = Math.floor(left * 0.875);
    const at = drawGamma(random, step);
    if (at > left) return count + drawBinomial(random, step - 1, left / at);
    count += step;
    left -= at;
  }
  const floor = Math.exp(-left);
  for (let product = random(); product > floor; product *= random()) count += 1;
  return count;
}

/** Successes of n trials. Source: Ahrens and Dieter (1974), by the median order statistic, a beta variable. */
function drawBinomial(random: Random, trials: number, chance: number): number {
  let count = 0;
  let n = trials;
  let p = chance;
  while (n > 20) {
    const a = 1 + (n >> 1);
    const b = n + 1 - a;
    const x = drawGamma(random, a);
    const share = x / (x + drawGamma(random, b));
    if (share <= p) {
      count += a;
      n = b - 1;
      p = (p - share) / (1 - share);
    } else {
      n = a - 1;
      p /= share;
    }
  }
  for (let i = 0; i < n; i++) if (random() < p) count += 1;
  return count;
}

/** Count of that mean > 0 and variance φ · mean: negative binomial, Poisson for φ ≤ 1. */
export function drawCount(random: Random, mean: number, dispersion: number): number {
  const over = dispersion - 1;
  return drawPoisson(random, over > 0 ? over * drawGamma(random, mean / over) : mean);
}
