/** Sides of comparisons, for tests. */
import type { Side } from '../../src/advice/side.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/** `bins`: name to [pulses, hours, φ]. */
export function makeSide(name: string, bins: Record<string, readonly [number, number, number?]>): Side {
  return {
    name,
    from: 0,
    to: 1,
    bins: Object.entries(bins).map(([bin, [pulses, hours, phi = 1]]) => ({
      bin,
      pulses,
      ms: hours * HOUR_MS,
      phi,
      isPhiUncertain: false,
    })),
    days: [],
  };
}

/** One bin, a few days, each with its pulses in ten hours. */
export function makeDays(name: string, firstDay: number, pulses: readonly number[], phi = 1): Side {
  const total = pulses.reduce((sum, each) => sum + each, 0);
  return {
    ...makeSide(name, { all: [total, 10 * pulses.length, phi] }),
    days: pulses.map((each, i) => ({
      day: (firstDay + i) * DAY_MS,
      bin: 'all',
      pulses: each,
      ms: 10 * HOUR_MS,
    })),
  };
}
