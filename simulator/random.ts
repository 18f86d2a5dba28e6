/**
 * Seeded chance. Every part of the plant draws from a stream of its own, named after the part, so that a change in one
 * motor does not shift the luck of another.
 * Sources: sfc32 of the PractRand suite (public domain) for the bits; Knuth's product method and, for large means,
 * Hörmann's transformed rejection (PTRS, 1993) for Poisson draws; Box-Muller for normal ones.
 */

/** A stream of chance. Everything is drawn from `unit`. */
export interface Random {
  /** [0, 1) */
  unit(): number;
  /** [low, high) */
  between(low: number, high: number): number;
  /** whole number in [low, high], both included */
  integer(low: number, high: number): number;
  chance(share: number): boolean;
  exponential(mean: number): number;
  normal(mean: number, deviation: number): number;
  poisson(mean: number): number;
  /** how many of `n` independent trials succeed */
  binomial(n: number, share: number): number;
}

/** Opens the stream that belongs to these names. Same seed and names: same stream. */
export function openStream(seed: number, ...names: readonly string[]): Random {
  const text = names.join('\u0000');
  const unit = openBits(hashText(text, seed), hashText(text, seed ^ 0x5bd1e995), hashText(text, ~seed), seed);
  const between = (low: number, high: number): number => low + unit() * (high - low);
  return {
    unit,
    between,
    integer: (low, high) => low + Math.floor(unit() * (high - low + 1)),
    chance: (share) => share > 0 && unit() < share,
    exponential: (mean) => -mean * Math.log(1 - unit()),
    normal: (mean, deviation) =>
      mean + deviation * Math.sqrt(-2 * Math.log(1 - unit())) * Math.cos(2 * Math.PI * unit()),
    poisson: (mean) => drawPoisson(unit, mean),
    binomial: (n, share) => drawBinomial(unit, n, share),
  };
}

function openBits(a: number, b: number, c: number, d: number): () => number {
  let counter = d | 1;
  const next = (): number => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + t) | 0;
    return (t >>> 0) / 4294967296;
  };
  for (let i = 0; i < 12; i++) next();
  return next;
}

/** FNV-1a over the text, then an avalanche, so that near names have far streams. */
function hashText(text: string, seed: number): number {
  let hash = (2166136261 ^ seed) >>> 0;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 16777619);
  hash = Math.imul(hash ^ (hash >>> 16), 0x85ebca6b);
  hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35);
  return hash ^ (hash >>> 16);
}

const KNUTH_MEAN_MAX = 12;

function drawPoisson(unit: () => number, mean: number): number {
  if (mean <= 0) return 0;
  if (mean > KNUTH_MEAN_MAX) return drawLargePoisson(unit, mean);
  const limit = Math.exp(-mean);
  let count = 0;
  for (let product = unit(); product > limit; product *= unit()) count += 1;
  return count;
}

function drawLargePoisson(unit: () => number, mean: number): number {
  const b = 0.931 + 2.53 * Math.sqrt(mean);
  const a = -0.059 + 0.02483 * b;
  const inverseAlpha = 1.1239 + 1.1328 / (b - 3.4);
  const edge = 0.9277 - 3.6224 / (b - 2);
  for (;;) {
    const u = unit() - 0.5;
    const v = unit();
    const us = 0.5 - Math.abs(u);
    const k = Math.floor(((2 * a) / us + b) * u + mean + 0.43);
    if (us >= 0.07 && v <= edge) return k;
    if (k < 0 || (us < 0.013 && v > us)) continue;
    const left = Math.log(v) + Math.log(inverseAlpha) - Math.log(a / (us * us) + b);
    if (left <= -mean + k * Math.log(mean) - lnFactorial(k)) return k;
  }
}

/** ln k!, by Stirling's series from 10 on. */
function lnFactorial(k: number): number {
  if (k < 10) {
    let product = 1;
    for (let i = 2; i <= k; i++) product *= i;
    return Math.log(product);
  }
  const x = k + 1;
  return (x - 0.5) * Math.log(x) - x + 0.9189385332046727 + 1 / (12 * x) - 1 / (360 * x ** 3);
}

const TRIALS_COUNTED_ONE_BY_ONE = 200;

function drawBinomial(unit: () => number, n: number, share: number): number {
  if (share >= 1) return n;
  if (share <= 0) return 0;
  if (n <= TRIALS_COUNTED_ONE_BY_ONE) {
    let hits = 0;
    for (let i = 0; i < n; i++) if (unit() < share) hits += 1;
    return hits;
  }
  const deviation = Math.sqrt(n * share * (1 - share));
  const normal = Math.sqrt(-2 * Math.log(1 - unit())) * Math.cos(2 * Math.PI * unit());
  return Math.min(n, Math.max(0, Math.round(n * share + deviation * normal)));
}
