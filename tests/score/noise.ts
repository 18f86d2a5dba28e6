/**
 * Bursty counts by the base window, in three shapes with the same mean and about the same dispersion over ten minutes: clusters of
 * pulses (Neyman and Scott), a gamma-mixed rate that changes by blocks (negative binomial), and a rate that switches on and off (Markov).
 */
import type { Random } from '../../simulator/random.js';
import { drawGamma } from './thresholds.js';

export const SHAPES = ['clusters', 'blocks', 'switching'] as const;
export type Shape = (typeof SHAPES)[number];

export interface NoiseWish {
  readonly shape: Shape;
  readonly ratePerS: number;
  /** at ten minutes, at least 1 */
  readonly dispersion: number;
  /** length of bursts, seconds: 5 to 300 */
  readonly burstS: number;
}

/** Pulses of the next base window (10 s); `factor` multiplies the rate. */
export type Noise = (factor: number) => number;

const WINDOW_S = 10;
const RING = 64;

export function openNoise(random: Random, wish: NoiseWish): Noise {
  if (wish.dispersion <= 1.01) return (factor) => random.poisson(wish.ratePerS * WINDOW_S * factor);
  if (wish.shape === 'clusters') return openClusters(random, wish);
  return wish.shape === 'blocks' ? openBlocks(random, wish) : openSwitch(random, wish);
}

/** More bursts when the rate rises, each of the same size: its dispersion stays. */
function openClusters(random: Random, { ratePerS, dispersion, burstS }: NoiseWish): Noise {
  const size = dispersion - 1;
  const parents = (ratePerS * WINDOW_S) / size;
  const ring = new Float64Array(RING);
  let at = 0;
  return (factor) => {
    for (let n = random.poisson(parents * factor); n > 0; n--) {
      const windows = 1 + Math.min(RING - 2, Math.floor(random.exponential(burstS) / WINDOW_S));
      for (let i = 0; i < windows; i++) ring[(at + i) % RING]! += size / windows;
    }
    const mean = ring[at % RING]!;
    ring[at % RING] = 0;
    at += 1;
    return random.poisson(mean);
  };
}

/** A rise multiplies the size of the bursts, and so their dispersion. */
function openBlocks(random: Random, { ratePerS, dispersion, burstS }: NoiseWish): Noise {
  const shape = (ratePerS * burstS) / (dispersion - 1);
  let left = 0;
  let rate = 0;
  return (factor) => {
    if (left <= 0) {
      rate = (ratePerS * drawGamma(random, shape)) / shape;
      left = Math.max(1, Math.round(burstS / WINDOW_S));
    }
    left -= 1;
    return random.poisson(rate * WINDOW_S * factor);
  };
}

function openSwitch(random: Random, { ratePerS, dispersion, burstS }: NoiseWish): Noise {
  // on for the share p: dispersion − 1 = 2 r s (1 − p)² / p
  const c = (dispersion - 1) / (2 * ratePerS * burstS);
  const p = (2 + c - Math.sqrt((2 + c) ** 2 - 4)) / 2;
  const offS = (burstS * (1 - p)) / p;
  let isOn = random.chance(p);
  let left = random.exponential(isOn ? burstS : offS);
  return (factor) => {
    let onS = 0;
    let time = WINDOW_S;
    while (time > 0) {
      const step = Math.min(time, left);
      if (isOn) onS += step;
      left -= step;
      time -= step;
      if (left > 0) continue;
      isOn = !isOn;
      left = random.exponential(isOn ? burstS : offS);
    }
    return random.poisson((ratePerS / p) * onS * factor);
  };
}
