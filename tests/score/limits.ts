/**
 * Whether limits hold what they promise: of a rate over some hours with the dispersion of the trailing 48 running hours, and of
 * the ratio before and after a remedy.
 */
import { openStream, type Random } from '../../simulator/random.js';
import { compare, type CompareSide } from '../../src/stats/compare.js';
import { dispersionOver, type HourSpread } from '../../src/stats/dispersion.js';
import { poissonLimits } from '../../src/stats/poisson.js';
import { logBetween } from './fleet.js';
import { openNoise, SHAPES, type Noise, type NoiseWish } from './noise.js';

export interface CoverageRow {
  shape: string;
  /** hours that the rate was taken over */
  hours: number;
  cases: number;
  covered: number;
  share: number;
}

const KEPT_HOURS = 48;

interface Hour extends HourSpread {
  q: [number, number, number, number];
  k: [number, number, number, number];
}

/** One hour of running, as the core sums it. */
export function runHourOf(noise: Noise, factor = 1): Hour {
  const hour: Hour & { pulses: number } = { pulses: 0, ms: 3_600_000, q: [0, 0, 0, 0], k: [360, 60, 6, 1] };
  let minute = 0;
  let ten = 0;
  for (let i = 1; i <= 360; i++) {
    const n = noise(factor);
    hour.pulses += n;
    minute += n;
    ten += n;
    hour.q[0] += n ** 2 / 10;
    if (i % 6 === 0) {
      hour.q[1] += minute ** 2 / 60;
      minute = 0;
    }
    if (i % 60 === 0) {
      hour.q[2] += ten ** 2 / 600;
      ten = 0;
    }
  }
  hour.q[3] = hour.pulses ** 2 / 3600;
  return hour;
}

function drawWish(random: Random, shape: (typeof SHAPES)[number]): NoiseWish {
  return {
    shape,
    ratePerS: logBetween(random, 0.01, 3),
    dispersion: logBetween(random, 1, 20),
    burstS: logBetween(random, 5, 300),
  };
}

/** Coverage of 95 % limits, over cases with N/φ ≥ 20. */
export function scoreCoverage(seed: number, cases: number): CoverageRow[] {
  return SHAPES.flatMap((shape) =>
    [1, 6, 24].map((hours) => {
      let covered = 0;
      let judged = 0;
      for (let c = 0; c < cases; c++) {
        const random = openStream(seed, 'coverage', shape, String(hours), String(c));
        const wish = drawWish(random, shape);
        const noise = openNoise(random, wish);
        for (let i = 0; i < 60; i++) noise(1);
        const spreads = Array.from({ length: KEPT_HOURS }, () => runHourOf(noise)).reverse();
        const { dispersion } = dispersionOver(spreads);
        const pulses = spreads.slice(0, hours).reduce((sum, hour) => sum + hour.pulses, 0);
        if (pulses / dispersion < 20) continue;
        judged += 1;
        const { lower, upper } = poissonLimits(pulses, 0.95, dispersion);
        const truth = wish.ratePerS * 3600 * hours;
        if (truth >= lower && truth <= upper) covered += 1;
      }
      return { shape, hours, cases: judged, covered, share: covered / judged };
    }),
  );
}

export interface RemedyResult {
  cases: number;
  covered: number;
  share: number;
  /** median width of the limits, upper over lower */
  width: number;
}

const CUT = 0.2;

function sideOf(noise: Noise, days: number, factor: number): CompareSide {
  const byDay = Array.from({ length: days }, () =>
    Array.from({ length: 10 }, () => runHourOf(noise, factor)),
  );
  const all = byDay.flat();
  const pulses = all.reduce((sum, hour) => sum + hour.pulses, 0);
  const phi = dispersionOver([...all].reverse()).dispersion;
  return {
    bins: [{ bin: 'all', pulses, exposureMs: all.length * 3_600_000, phi, phiFreedom: KEPT_HOURS - 1 }],
    days: byDay.map((hours, day) => ({
      day: String(day),
      bin: 'all',
      pulses: hours.reduce((sum, hour) => sum + hour.pulses, 0),
      exposureMs: hours.length * 3_600_000,
    })),
  };
}

/** A remedy that cuts the rate by 80 %: two weeks before, 3 to 14 days after. */
export function scoreRemedy(seed: number, cases: number): RemedyResult {
  let covered = 0;
  const widths: number[] = [];
  for (let c = 0; c < cases; c++) {
    const random = openStream(seed, 'remedy', String(c));
    const wish = drawWish(random, SHAPES[random.integer(0, SHAPES.length - 1)]!);
    const noise = openNoise(random, wish);
    const before = sideOf(noise, 14, 1);
    const after = sideOf(noise, random.integer(3, 14), CUT);
    const { lower, upper } = compare(after, before, { confidence: 0.95, nullRatio: 1 });
    if (lower <= CUT && (upper === null || upper >= CUT)) covered += 1;
    if (upper !== null && lower > 0) widths.push(upper / lower);
  }
  widths.sort((a, b) => a - b);
  return { cases, covered, share: covered / cases, width: widths[widths.length >> 1] ?? Infinity };
}
