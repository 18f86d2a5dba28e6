/** Running windows of a sensor whose discharges come in bursts, and their hourly sums. */
import type { HourSpread } from '../../src/stats/dispersion.js';
import { drawPoisson } from './random.js';

/** Base windows in an hour. */
export const WINDOWS_PER_HOUR = 360;

export interface BurstProcess {
  /** bursts per hour of running */
  burstsPerHour: number;
  /** mean length of a burst; lengths are exponential */
  burstS: number;
  /** pulses per second in a burst */
  burstPerS: number;
  /** pulses per second at all times */
  quietPerS: number;
}

/** Pulses per minute in the long run. */
export function truePerMin(process: BurstProcess): number {
  return (process.burstsPerHour / 60) * process.burstS * process.burstPerS + 60 * process.quietPerS;
}

/** Pulses in each 10 s window of `hours` hours. Bursts may overlap; they then add. */
export function drawWindows(random: () => number, process: BurstProcess, hours: number): number[] {
  const burning = new Array<number>(hours * WINDOWS_PER_HOUR).fill(0);
  const warmUpS = 10 * process.burstS;
  for (let at = -warmUpS; ;) {
    at -= (Math.log(random()) * 3600) / process.burstsPerHour;
    if (at >= hours * 3600) break;
    const end = Math.min(at - Math.log(random()) * process.burstS, hours * 3600);
    for (let i = Math.max(0, Math.floor(at / 10)); i * 10 < end; i++) {
      burning[i]! += Math.min(end, i * 10 + 10) - Math.max(at, i * 10);
    }
  }
  return burning.map((s) => drawPoisson(random, s * process.burstPerS + 10 * process.quietPerS));
}

/** The sums of each hour, newest first. */
export function spreadsOf(windows: readonly number[]): HourSpread[] {
  const spreads: HourSpread[] = [];
  for (let hour = 0; hour + WINDOWS_PER_HOUR <= windows.length; hour += WINDOWS_PER_HOUR) {
    const x = windows.slice(hour, hour + WINDOWS_PER_HOUR);
    const q: [number, number, number, number] = [0, 0, 0, 0];
    [1, 6, 60, 360].forEach((length, b) => {
      for (let i = 0; i < x.length; i += length) {
        let block = 0;
        for (let j = i; j < i + length; j++) block += x[j]!;
        q[b]! += block ** 2 / (10 * length);
      }
    });
    const pulses = x.reduce((a, b) => a + b, 0);
    spreads.unshift({ pulses, ms: 3_600_000, q, k: [360, 60, 6, 1] });
  }
  return spreads;
}
