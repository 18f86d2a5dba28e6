/** The last rate of every sensor, as heard on the live stream. Lost at a restart, because the next window brings it anew. */
import type { SensorKey } from '../core/facts.js';
import type { RateNow } from '../core/rows.js';
import type { LiveNews } from './deps.js';

export interface LatestRates {
  /** null: none since the start */
  rateOf(sensor: SensorKey): RateNow | null;
  close(): void;
}

/** One entry per configured sensor at most, so it cannot grow beyond the plant. */
export function followRates(subscribe: (listener: (news: LiveNews) => void) => () => void): LatestRates {
  const rates = new Map<SensorKey, RateNow>();
  const close = subscribe((event) => {
    if (event.kind === 'rate') rates.set(event.rate.sensor, event.rate);
  });
  return { rateOf: (sensor) => rates.get(sensor) ?? null, close };
}
