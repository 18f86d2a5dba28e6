/**
 * The retained rates survive a restart without a write for each: a sensor's is stored every ten minutes of its own time,
 * and within seconds of a start the next window brings a new one. Every message says from when it is.
 */
import { rateOf, type RateCounts } from '../core/rate.js';
import type { CheckpointRow } from '../core/rows.js';
import { retainedRow } from './retained.js';
import { tellRate } from './told.js';

const EVERY_MS = 600_000;

export class RateRecorder {
  readonly #recordedAt = new Map<string, number>();

  rowsFor(site: string, rates: readonly RateCounts[]): CheckpointRow[] {
    const rows: CheckpointRow[] = [];
    for (const counts of rates) {
      const { sensor, start } = counts.window;
      const last = this.#recordedAt.get(sensor) ?? Number.NEGATIVE_INFINITY;
      if (start < last + EVERY_MS) continue;
      this.#recordedAt.set(sensor, start);
      const { topic, payload } = tellRate(site, rateOf(counts));
      rows.push(retainedRow(topic, Buffer.from(payload, 'utf8')));
    }
    return rows;
  }
}
