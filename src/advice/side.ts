/** One side of a comparison: what a sensor, or a few sensors together, counted in running, bin by bin. */
import { dispersionOver, type HourSpread } from '../stats/dispersion.js';

/** Bins in which conditions are not alike, and why: they are left out of every comparison. */
const UNLIKE_BINS: Readonly<Record<string, string>> = {
  mixed: 'the conditions changed within an increment',
  learning: 'counted before the edges of the bins were learnt',
};

export interface SideBinSums {
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
  /** φ ≥ 1 */
  readonly phi: number;
  /** fewer than 10 blocks of 10 min behind φ: the limits are uncertain */
  readonly isPhiUncertain: boolean;
}

export interface SideDaySums {
  /** start of the day, ms */
  readonly day: number;
  readonly bin: string;
  readonly pulses: number;
  readonly ms: number;
}

export interface Side {
  /** who, in words: `booster-4 de`, `the median of its sisters` */
  readonly name: string;
  readonly from: number | null;
  readonly to: number | null;
  readonly bins: readonly SideBinSums[];
  readonly days: readonly SideDaySums[];
}

/** Why counts of this bin compare with nothing; null: they do. An axis whose value is not known says nothing of likeness. */
export function unlikeReason(bin: string): string | null {
  return (
    UNLIKE_BINS[bin] ??
    (bin.split(', ').some((cell) => cell.endsWith(' ?')) ? 'a condition is not known' : null)
  );
}

/** φ of a bin from the sums of its spreads; null: nothing closed yet, so Poisson, and uncertain. */
export function phiOf(spread: HourSpread | null): { phi: number; isPhiUncertain: boolean } {
  if (spread === null) return { phi: 1, isPhiUncertain: true };
  const { dispersion, uncertain } = dispersionOver([spread]);
  return { phi: dispersion, isPhiUncertain: uncertain };
}

/** Several sides as one: sums added, φ weighed by pulses (the variance of a sum is the sum of the variances). */
export function joinSides(name: string, sides: readonly Side[]): Side {
  const bins = new Map<
    string,
    { pulses: number; ms: number; variance: number; isPhiUncertain: boolean; phi: number }
  >();
  const days = new Map<string, { day: number; bin: string; pulses: number; ms: number }>();
  for (const side of sides) {
    for (const { bin, pulses, ms, phi, isPhiUncertain } of side.bins) {
      const sum = bins.get(bin) ?? { pulses: 0, ms: 0, variance: 0, isPhiUncertain: false, phi: 1 };
      sum.pulses += pulses;
      sum.ms += ms;
      sum.variance += phi * pulses;
      sum.phi = Math.max(sum.phi, phi);
      sum.isPhiUncertain ||= isPhiUncertain;
      bins.set(bin, sum);
    }
    for (const { day, bin, pulses, ms } of side.days) {
      const key = `${day} ${bin}`;
      const sum = days.get(key) ?? { day, bin, pulses: 0, ms: 0 };
      sum.pulses += pulses;
      sum.ms += ms;
      days.set(key, sum);
    }
  }
  const edges = (pick: (side: Side) => number | null): number[] => sides.flatMap((side) => pick(side) ?? []);
  const starts = edges(({ from }) => from);
  const ends = edges(({ to }) => to);
  return {
    name,
    from: starts.length === 0 ? null : Math.min(...starts),
    to: ends.length === 0 ? null : Math.max(...ends),
    bins: [...bins].map(([bin, { pulses, ms, variance, phi, isPhiUncertain }]) => ({
      bin,
      pulses,
      ms,
      phi: pulses > 0 ? variance / pulses : phi,
      isPhiUncertain,
    })),
    days: [...days.values()],
  };
}
