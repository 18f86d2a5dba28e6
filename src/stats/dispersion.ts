/**
 * Dispersion φ of counts: how many times their variance exceeds that of a Poisson count. Discharges come in bursts, so
 * limits that ignore it are far too narrow.
 * Source: Pearson statistic over degrees of freedom, P. McCullagh and J. A. Nelder, Generalized Linear Models, 2nd ed.
 * (1989), chapter 6; several block lengths because a burst as long as a block hides in it (our choice).
 */

/** Block lengths of a `HourSpread`, in the order of its `q` and `k`. */
export const BLOCK_LENGTHS_MS = [10_000, 60_000, 600_000, 3_600_000] as const;

/** Blocks of one length below which its dispersion says too little to be used. */
export const BLOCKS_MIN = 10;

/** Index of the 10 min blocks in `BLOCK_LENGTHS_MS`: without enough of them the dispersion is uncertain. */
const TEN_MINUTES = 2;

const ONE_HOUR = 3;

/** Running exposure that the dispersion looks back over. */
export const EXPOSURE_KEPT_MS = 48 * 3_600_000;

/** One running hour: pulses, running ms, and per block length Σ x²/e (e in seconds) and the number of blocks. */
export interface HourSpread {
  readonly pulses: number;
  readonly ms: number;
  readonly q: readonly [number, number, number, number];
  readonly k: readonly [number, number, number, number];
}

export interface Dispersion {
  /** φ ≥ 1 */
  dispersion: number;
  /** length of the blocks that gave it; null: no length had blocks enough, and φ is the 1 of a Poisson count */
  blockMs: number | null;
  /** fewer than 10 blocks of 10 min */
  uncertain: boolean;
}

/** φ for sums over many hours, as comparisons need it. */
export interface LongDispersion {
  /** ≥ 1 */
  phi: number;
  /** blocks less one that it was estimated from; null: too few blocks of any length, φ is the 1 of a Poisson count */
  freedom: number | null;
}

/**
 * Pearson dispersion Σ (x − r e)² / (r e) / (k − p) from sums, with the common rate r = Σx / Σe: ((Σ x²/e) / r − Σx) / (k − p).
 * `q`: Σ x²/e per second; `fitted`: parameters p estimated from the blocks (1 for the common rate).
 * null where it is not defined: no pulses, no exposure, or k ≤ p.
 */
export function pearson(
  q: number,
  pulses: number,
  exposureS: number,
  blocks: number,
  fitted = 1,
): number | null {
  if (!(pulses > 0 && exposureS > 0) || blocks <= fitted) return null;
  return Math.max(0, (q * exposureS) / pulses - pulses) / (blocks - fitted);
}

/** Pearson dispersion of blocks with x[i] pulses in eSeconds[i] > 0 seconds; null as in `pearson`. Lists of equal length. */
export function dispersionOfBlocks(x: readonly number[], eSeconds: readonly number[]): number | null {
  if (x.length !== eSeconds.length) {
    throw new RangeError(`dispersionOfBlocks: ${x.length} counts but ${eSeconds.length} exposures`);
  }
  let pulses = 0;
  let exposureS = 0;
  for (let i = 0; i < x.length; i++) {
    pulses += x[i]!;
    exposureS += eSeconds[i]!;
  }
  const rate = pulses / exposureS;
  if (!(rate > 0) || x.length <= 1) return null;
  let chiSquare = 0;
  for (let i = 0; i < x.length; i++) {
    const mean = rate * eSeconds[i]!;
    chiSquare += (x[i]! - mean) ** 2 / mean;
  }
  return chiSquare / (x.length - 1);
}

interface SpreadSums {
  pulses: number;
  exposureS: number;
  q: number[];
  k: number[];
}

/** Sums over the newest hours, the one included that reaches the 48th. */
function addSpreads(spreads: Iterable<HourSpread>): SpreadSums {
  let pulses = 0;
  let ms = 0;
  const q = [0, 0, 0, 0];
  const k = [0, 0, 0, 0];
  for (const hour of spreads) {
    if (ms >= EXPOSURE_KEPT_MS) break;
    pulses += hour.pulses;
    ms += hour.ms;
    for (let i = 0; i < BLOCK_LENGTHS_MS.length; i++) {
      q[i]! += hour.q[i]!;
      k[i]! += hour.k[i]!;
    }
  }
  return { pulses, exposureS: ms / 1000, q, k };
}

/**
 * φ over the newest 48 hours of running exposure. `spreads`: newest first; the hour that reaches the 48th is the last taken.
 * The largest over the block lengths with at least 10 blocks, never below 1.
 */
export function dispersionOver(spreads: Iterable<HourSpread>): Dispersion {
  const { pulses, exposureS, q, k } = addSpreads(spreads);
  let dispersion = 1;
  let blockMs: number | null = null;
  for (let i = 0; i < BLOCK_LENGTHS_MS.length; i++) {
    if (k[i]! < BLOCKS_MIN) continue;
    const found = pearson(q[i]!, pulses, exposureS, k[i]!) ?? 0;
    if (blockMs !== null && found <= dispersion) continue;
    dispersion = Math.max(1, found);
    blockMs = BLOCK_LENGTHS_MS[i]!;
  }
  return { dispersion, blockMs, uncertain: k[TEN_MINUTES]! < BLOCKS_MIN };
}

/**
 * φ of sums over many hours, from the same hours as `dispersionOver`, and never below its φ. A burst that reaches over the end of an hour
 * is cut there, so blocks of an hour still hide a part of φ, about (mean burst) / (1 h): with bursts of 5 min limits cover 92 % instead
 * of 95 %. φ(T) nears its end value as 1/T, so the end is φ(1 h) + (φ(1 h) − φ(10 min)) / 5, where both have 10 blocks.
 * Source: variance of sums of a stationary series, D. R. Cox and P. A. W. Lewis, The Statistical Analysis of Series of Events (1966),
 * section 4.5; the extrapolation is our choice.
 */
export function longDispersion(spreads: Iterable<HourSpread>): LongDispersion {
  const hours = [...spreads];
  const { dispersion, blockMs } = dispersionOver(hours);
  const { pulses, exposureS, q, k } = addSpreads(hours);
  if (blockMs === null) return { phi: 1, freedom: null };
  const freedom = k[BLOCK_LENGTHS_MS.findIndex((ms) => ms === blockMs)]! - 1;
  if (k[ONE_HOUR]! < BLOCKS_MIN) return { phi: dispersion, freedom };
  const hour = pearson(q[ONE_HOUR]!, pulses, exposureS, k[ONE_HOUR]!) ?? 0;
  const tenMinutes = pearson(q[TEN_MINUTES]!, pulses, exposureS, k[TEN_MINUTES]!) ?? 0;
  return {
    phi: dispersion + Math.max(0, hour - tenMinutes) / 5,
    freedom: k[ONE_HOUR]! - 1,
  };
}
