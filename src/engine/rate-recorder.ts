/**
 * The retained rates survive a restart without a write for each: a sensor's is stored every ten minutes of its own time,
 * and within seconds of a start the next window brings a new one. Every message says from when it is.
 */
import type { CheckpointRow, RateNow } from '../core/rows.js';
import { retainedRow } from './retained.js';
import { tellRate } from './told.js';

const EVERY_MS = 600_000;

export class RateRecorder {
  readonly #recordedAt = new Map<string, number>();

  rowsFor(site: string, rates: readonly RateNow[]): CheckpointRow[] {
    const rows: CheckpointRow[] = [];
    for (const rate of rates) {
      const last = this.#recordedAt.get(rate.sensor) ?? Number.NEGATIVE_INFINITY;
      if (rate.to < last + EVERY_MS) continue;
      this.#recordedAt.set(rate.sensor, rate.to);
      const { topic, payload } = tellRate(site, rate);
      rows.push(retainedRow(topic, Buffer.from(payload, 'utf8')));
    }
    return rows;
  }
}
